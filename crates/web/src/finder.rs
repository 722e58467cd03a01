//! The finder as workers see it.

use crate::{from_json, to_json};
use seamwright_plan::remote::finder;
use wasm_bindgen::prelude::*;

/// Holds what is drawn and says what a ray meets.
#[wasm_bindgen]
#[derive(Default)]
pub struct Finder(finder::Finder);

#[wasm_bindgen]
impl Finder {
    /// Knows nothing yet.
    #[wasm_bindgen(constructor)]
    pub fn new() -> Self {
        Self::default()
    }

    /// Forgets what was drawn of an item.
    pub fn forget(&mut self, item: &str) {
        self.0.forget(item);
    }

    /// Takes a part of an item as it is drawn; without a piece's id it is the item before any cut.
    pub fn take(
        &mut self,
        item: &str,
        piece: Option<String>,
        pull_mm: &[f64],
        points_mm: &[f32],
        triangles: &[u32],
    ) {
        let pull_mm = pull_mm.first_chunk().copied().unwrap_or_default();
        self.0.take(item, piece, pull_mm, points_mm, triangles);
    }

    /// What a `Ray` meets first: a `Met`, or nothing.
    ///
    /// # Errors
    /// Where it is no ray.
    pub fn find(&self, ray: &str) -> Result<Option<String>, JsValue> {
        self.0.find(&from_json(ray)?).map(|met| to_json(&met)).transpose()
    }
}
