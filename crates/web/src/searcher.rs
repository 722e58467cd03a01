//! The searcher as workers see it.

use crate::{error, from_json, to_json};
use js_sys::{Float32Array, Float64Array};
use seamwright_plan::remote::searcher;
use wasm_bindgen::prelude::*;

/// Runs tasks of rounds, one at a time.
#[wasm_bindgen]
#[derive(Default)]
pub struct Searcher(searcher::Searcher);

#[wasm_bindgen]
impl Searcher {
    /// Knows nothing yet.
    #[wasm_bindgen(constructor)]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes an item's solid from the keeper; `asked` is an `Asked`.
    ///
    /// # Errors
    /// Where the bytes are not the keeper's.
    #[wasm_bindgen(js_name = takeItem)]
    pub fn take_item(&mut self, item: usize, solid: &[u8], asked: &str) -> Result<(), JsValue> {
        self.0.take_item(item, solid, &from_json(asked)?).map_err(error)
    }

    /// Begins a `TaskNote`; whether there is such a task.
    ///
    /// # Errors
    /// Where it is no note.
    pub fn start(&mut self, task: &str) -> Result<bool, JsValue> {
        Ok(self.0.start(from_json(task)?))
    }

    /// One step; whether the task has ended.
    pub fn step(&mut self) -> bool {
        self.0.step()
    }

    /// What the ended task found: a `ResultNote`, or nothing.
    ///
    /// # Errors
    /// Never in truth.
    pub fn result(&self) -> Result<Option<String>, JsValue> {
        self.0.result().map(|note| to_json(&note)).transpose()
    }

    /// Answers a `ProbeAsked` by a `ProbeNote`, or nothing where the plane misses the part.
    ///
    /// # Errors
    /// Where it is no such question.
    pub fn probe(&mut self, asked: &str) -> Result<Option<String>, JsValue> {
        self.0.probe(from_json(asked)?).map(|note| to_json(&note)).transpose()
    }

    /// The line of the plane asked for last: segments, pairs of points.
    #[wasm_bindgen(js_name = probedLine)]
    pub fn probed_line(&self) -> Float32Array {
        Float32Array::from(&self.0.probed_line()[..])
    }

    /// The cuts of a plan it found.
    pub fn cuts(&self) -> Float64Array {
        Float64Array::from(&self.0.cuts()[..])
    }
}
