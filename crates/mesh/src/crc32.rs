//! CRC-32 as ZIP uses it, eight bytes a step.
//!
//! Source: polynomial 0xEDB88320 (reflected 0x04C11DB7), ISO 3309 / ITU-T V.42; check value of
//! "123456789" is 0xCBF43926 (both from memory, the check value is tested). Slicing after "A
//! systematic approach to building high performance software-based CRC generators" (2005), from memory.

const TABLES: [[u32; 256]; 8] = tables();

const fn tables() -> [[u32; 256]; 8] {
    let mut tables = [[0u32; 256]; 8];
    let mut byte = 0;
    while byte < 256 {
        let mut value = byte as u32;
        let mut bit = 0;
        while bit < 8 {
            value = if value & 1 == 1 { (value >> 1) ^ 0xEDB8_8320 } else { value >> 1 };
            bit += 1;
        }
        tables[0][byte] = value;
        byte += 1;
    }
    let mut slice = 1;
    while slice < 8 {
        let mut byte = 0;
        while byte < 256 {
            let before = tables[slice - 1][byte];
            tables[slice][byte] = (before >> 8) ^ tables[0][(before & 0xFF) as usize];
            byte += 1;
        }
        slice += 1;
    }
    tables
}

/// The checksum of `bytes`.
pub fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = !0u32;
    let mut chunks = bytes.chunks_exact(8);
    for chunk in &mut chunks {
        let low = crc.to_le_bytes();
        crc = 0;
        for (place, &byte) in chunk.iter().enumerate() {
            let byte = if place < 4 { byte ^ low[place] } else { byte };
            crc ^= TABLES[7 - place][byte as usize];
        }
    }
    for &byte in chunks.remainder() {
        crc = (crc >> 8) ^ TABLES[0][((crc ^ u32::from(byte)) & 0xFF) as usize];
    }
    !crc
}

#[cfg(test)]
mod tests {
    /// Published check value of CRC-32/ISO-HDLC; the longer text crosses the eight-byte step and
    /// its value is from the same table applied byte by byte.
    #[test]
    fn the_published_check_value_holds() {
        assert_eq!(super::crc32(b"123456789"), 0xCBF4_3926);
        assert_eq!(super::crc32(b""), 0);
        assert_eq!(super::crc32(b"The quick brown fox jumps over the lazy dog"), 0x414F_A339);
    }
}
