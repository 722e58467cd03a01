//! How large a model may be, and the way out for a larger one.
//!
//! Planning takes about 0.7 kB of memory a triangle, reading and simplifying about 0.4 kB (measured natively on 3
//! and 10 million). In Chromium 3 million are planned within 1.8 GB of wasm memory of all workers, and 6 million
//! simplified to one within 2.7 GB for the page with all its workers, the file's copies among them.

/// Most triangles that are planned.
pub const MOST_PLANNED: usize = if cfg!(target_family = "wasm") { 3_000_000 } else { MOST_NATIVELY };

const MOST_NATIVELY: usize = 10_000_000;

/// Most triangles that are read where they are to be simplified.
pub const MOST_READ: usize = 2 * MOST_PLANNED;

/// Least that can be asked for: fewer hold no shape.
pub const LEAST_SIMPLIFIED: u32 = 1_000;

/// Whether so many triangles can be planned, simplified to so many first if that is wished.
///
/// # Errors
/// Says the limit and what to do.
pub fn check(n_triangles: usize, simplify: Option<u32>) -> Result<(), String> {
    let place = if cfg!(target_family = "wasm") { "in a browser" } else { "here" };
    if n_triangles > MOST_READ {
        return Err(format!(
            "it has {n_triangles} triangles, more than the {MOST_READ} that are read {place}; \
             save it with fewer, or cut it in parts{}",
            if cfg!(target_family = "wasm") {
                format!(", or use the program, which reads {}", 2 * MOST_NATIVELY)
            } else {
                String::new()
            }
        ));
    }
    let n_planned = simplify.map_or(n_triangles, |n| n_triangles.min(n as usize));
    if n_planned > MOST_PLANNED {
        return Err(format!(
            "it has {n_triangles} triangles, more than the {MOST_PLANNED} that are planned {place}; \
             let it be simplified to fewer{}: how far that moves the surface is measured and told",
            if cfg!(target_family = "wasm") { "" } else { " (simplify=1000000)" }
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limits_name_the_way_out() {
        assert_eq!(check(MOST_PLANNED, None), Ok(()));
        assert_eq!(check(MOST_READ, Some(1_000_000)), Ok(()));
        let why = check(MOST_PLANNED + 1, None).unwrap_err();
        assert!(why.contains("10000001 triangles") && why.contains("simplify=1000000"), "{why}");
        assert!(check(MOST_READ + 1, Some(1_000_000)).unwrap_err().contains("save it with fewer"));
    }
}
