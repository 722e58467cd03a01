//! Inputs kept from guided runs: one file a target, each input with its length in two bytes before it.

/// The inputs of a file; a last one that is cut short is left out.
pub fn inputs(mut file: &[u8]) -> Vec<&[u8]> {
    let mut found = Vec::new();
    while let Some((head, rest)) = file.split_first_chunk::<2>() {
        let Some((input, next)) = rest.split_at_checked(usize::from(u16::from_le_bytes(*head))) else {
            break;
        };
        found.push(input);
        file = next;
    }
    found
}

/// The file of some inputs; longer ones than two bytes can say are left out.
pub fn file_of<'a>(inputs: impl Iterator<Item = &'a [u8]>) -> Vec<u8> {
    let mut file = Vec::new();
    for input in inputs {
        if let Ok(length) = u16::try_from(input.len()) {
            file.extend_from_slice(&length.to_le_bytes());
            file.extend_from_slice(input);
        }
    }
    file
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::targets;
    use std::path::Path;

    #[test]
    fn inputs_come_back_as_they_were_kept() {
        let all: [&[u8]; 3] = [b"one", b"", &[7; 300]];
        let file = file_of(all.into_iter());
        assert_eq!(inputs(&file), all);
        assert_eq!(inputs(&file[..file.len() - 1]), all[..2]);
    }

    /// Every eighth: all of them take a minute, and `cargo xtask fuzz --guided` begins with all.
    #[test]
    fn kept_inputs_still_break_no_promise() {
        let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
        let mut n_tried = 0;
        for target in &targets::TARGETS {
            let Ok(file) = std::fs::read(corpus.join(format!("{}.inputs", target.name))) else { continue };
            for input in inputs(&file).into_iter().step_by(8) {
                (target.run)(input);
                n_tried += 1;
            }
        }
        assert!(n_tried > 100, "{n_tried}");
    }
}
