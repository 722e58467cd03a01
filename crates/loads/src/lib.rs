//! Laying pieces on beds: footprints, lays, lay drawings.
