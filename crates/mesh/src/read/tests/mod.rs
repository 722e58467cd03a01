//! Tests of all readers: generated cases, mutated bytes, the reference data.

mod reference;
