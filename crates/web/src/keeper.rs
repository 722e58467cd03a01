//! The keeper as workers see it.

use crate::{error, from_json, to_json};
use js_sys::{Array, Float32Array, Float64Array, Uint8Array, Uint32Array};
use seamwright_plan::project::settings_of_record;
use seamwright_plan::remote::drawing::Drawing;
use seamwright_plan::remote::keeper;
use seamwright_plan::remote::looking::look;
use seamwright_plan::remote::messages::ResultNote;
use seamwright_plan::remote::opening::open_project;
use seamwright_plan::remote::shapes::Shape;
use wasm_bindgen::prelude::*;

/// Holds one plan while it is made and after.
#[wasm_bindgen]
pub struct Keeper(keeper::Keeper);

#[wasm_bindgen]
impl Keeper {
    /// Begins a plan; `asked` is an `Asked`.
    ///
    /// # Errors
    /// A sentence about what is wrong with the beds.
    #[wasm_bindgen(constructor)]
    pub fn new(asked: &str) -> Result<Self, JsValue> {
        keeper::Keeper::new(&from_json(asked)?).map(Self).map_err(error)
    }

    /// Begins another plan; what was read is kept for it.
    ///
    /// # Errors
    /// As above.
    #[wasm_bindgen(js_name = beginAnew)]
    pub fn begin_anew(&mut self, asked: &str) -> Result<(), JsValue> {
        self.0.begin_anew(&from_json(asked)?).map_err(error)
    }

    /// Reads a model; gives a `ReadItem`.
    ///
    /// # Errors
    /// A sentence naming the file, where and why.
    pub fn add(&mut self, key: &str, name: &str, settings: &str, bytes: Vec<u8>) -> Result<String, JsValue> {
        to_json(&self.0.add(key, name, &from_json(settings)?, bytes).map_err(error)?)
    }

    /// Forgets models of earlier plans.
    #[wasm_bindgen(js_name = clearShelf)]
    pub fn clear_shelf(&mut self) {
        self.0.clear_shelf();
    }

    /// An item's stand-in: points, triangles, skin.
    pub fn shape(&self, item: usize) -> Array {
        shape_array(&self.0.shape(item))
    }

    /// An item for searchers.
    #[wasm_bindgen(js_name = itemBytes)]
    pub fn item_bytes(&self, item: usize) -> Uint8Array {
        Uint8Array::from(&self.0.item_bytes(item)[..])
    }

    /// Begins the next item's plain grid; false when the rounds may begin.
    ///
    /// # Errors
    /// A sentence where the beds are far too small.
    #[wasm_bindgen(js_name = beginGrid)]
    pub fn begin_grid(&mut self, seconds: f64) -> Result<bool, JsValue> {
        self.0.begin_grid(seconds).map_err(error)
    }

    /// One cut of it: cuts made and cuts in all, nothing when it is done.
    #[wasm_bindgen(js_name = stepGrid)]
    pub fn step_grid(&mut self) -> Option<Vec<u32>> {
        self.0.step_grid().map(|(n_done, n_all)| vec![n_done as u32, n_all as u32])
    }

    /// The next round's tasks: `TaskNote[]`, empty where none is due.
    ///
    /// # Errors
    /// Never in truth.
    pub fn tasks(&self) -> Result<String, JsValue> {
        to_json(&self.0.tasks())
    }

    /// Ends a round; takes `(ResultNote | null)[]` and the cuts of each plan in it, gives `Winner[]`.
    ///
    /// # Errors
    /// Where the results are none.
    pub fn merge(&mut self, results: &str, cuts: Vec<Float64Array>) -> Result<String, JsValue> {
        let results: Vec<Option<ResultNote>> = from_json(results)?;
        let cuts = cuts.iter().map(Float64Array::to_vec).chain(std::iter::repeat(Vec::new()));
        to_json(&self.0.merge(results.into_iter().zip(cuts).collect()))
    }

    /// Plans to choose beside the best of an item: `OtherNote[]`.
    ///
    /// # Errors
    /// Never in truth.
    pub fn others(&self, item: usize) -> Result<String, JsValue> {
        to_json(&self.0.others(item))
    }

    /// Begins to cut one of them; whether there is such a plan.
    #[wasm_bindgen(js_name = beginOther)]
    pub fn begin_other(&mut self, item: usize, index: usize) -> bool {
        self.0.begin_other(item, index)
    }

    /// One cut of it; whether there are more.
    #[wasm_bindgen(js_name = stepOther)]
    pub fn step_other(&mut self) -> bool {
        self.0.step_other()
    }

    /// It to draw, as [`Self::drawing`] gives the best.
    ///
    /// # Errors
    /// Never in truth.
    #[wasm_bindgen(js_name = otherDrawing)]
    pub fn other_drawing(&mut self) -> Result<Option<Array>, JsValue> {
        self.0.other_drawing().as_ref().map(drawing_array).transpose()
    }

    /// Begins to cut a winner again.
    ///
    /// # Errors
    /// Where the numbers are no cuts.
    pub fn replay(&mut self, item: usize, cuts: &[f64]) -> Result<(), JsValue> {
        self.0.replay(item, cuts).map_err(error)
    }

    /// One cut of it; whether there are more.
    ///
    /// # Errors
    /// Where it cannot be made.
    #[wasm_bindgen(js_name = stepReplay)]
    pub fn step_replay(&mut self) -> Result<bool, JsValue> {
        self.0.step_replay().map_err(error)
    }

    /// The round is over and its winners are taken; gives a `RoundNote`.
    ///
    /// # Errors
    /// Never in truth.
    #[wasm_bindgen(js_name = endRound)]
    pub fn end_round(&mut self, seconds: f64) -> Result<String, JsValue> {
        to_json(&self.0.end_round(seconds))
    }

    /// How far the search is: a `RoundNote`.
    ///
    /// # Errors
    /// Never in truth.
    pub fn round(&self) -> Result<String, JsValue> {
        to_json(&self.0.round())
    }

    /// An item's best plan to draw: an `ItemPlanNote`, then per piece points, triangles, skin, then
    /// a line per seam.
    ///
    /// # Errors
    /// Never in truth.
    pub fn drawing(&self, item: usize) -> Result<Option<Array>, JsValue> {
        self.0.drawing(item).as_ref().map(drawing_array).transpose()
    }

    /// One step of finishing: the stage that comes next, nothing when the plan is finished.
    ///
    /// # Errors
    /// A sentence where an item has no plan or a piece cannot be laid.
    pub fn finish(&mut self, seconds: f64) -> Result<Option<String>, JsValue> {
        self.0.finish(seconds).map(|stage| stage.map(String::from)).map_err(error)
    }

    /// What [`Self::finish`] does next.
    #[wasm_bindgen(js_name = nextStage)]
    pub fn next_stage(&self) -> String {
        self.0.next_stage().into()
    }

    /// `plan.json`.
    #[wasm_bindgen(js_name = planJson)]
    pub fn plan_json(&self) -> Option<Uint8Array> {
        self.0.plan_json().map(Uint8Array::from)
    }

    /// Lays and findings: a `FinishedNote`.
    ///
    /// # Errors
    /// Never in truth.
    pub fn finished(&self) -> Result<Option<String>, JsValue> {
        self.0.finished().map(|note| to_json(&note)).transpose()
    }

    /// The plan folder as one archive: arrays of bytes to lay end to end.
    pub fn zip(&self) -> Option<Array> {
        Some(self.0.zip()?.map(|part| JsValue::from(Uint8Array::from(&part[..]))).collect())
    }

    /// The project file.
    pub fn project(&self) -> Option<Uint8Array> {
        self.0.project().map(Uint8Array::from)
    }
}

fn drawing_array(drawing: &Drawing) -> Result<Array, JsValue> {
    let drawn = Array::of1(&to_json(&drawing.note)?.into());
    for shape in &drawing.shapes {
        drawn.push(&shape_array(shape));
    }
    for line in &drawing.lines {
        drawn.push(&Float32Array::from(&line[..]));
    }
    Ok(drawn)
}

fn shape_array(shape: &Shape) -> Array {
    Array::of3(
        &Float32Array::from(&shape.points_mm[..]),
        &Uint32Array::from(&shape.triangles[..]),
        &Uint8Array::from(&shape.skin[..]),
    )
}

/// Looks at a model file as it is: an `InspectRecord`, then its points, triangles, skin.
///
/// # Errors
/// A sentence about where and why it cannot be read.
#[wasm_bindgen(js_name = lookAtFile)]
pub fn look_at_file(name: &str, settings: &str, bytes: &[u8]) -> Result<Array, JsValue> {
    let settings = settings_of_record(&from_json(settings)?).map_err(error)?;
    let (report, shape) = look(name, &settings, bytes).map_err(error)?;
    Ok(Array::of2(&to_json(&report)?.into(), &shape_array(&shape)))
}

/// Opens a project: an `OpenedProject`, then the bytes of its models.
///
/// # Errors
/// A sentence about what is wrong.
#[wasm_bindgen(js_name = openProject)]
pub fn opened_project(bytes: &[u8]) -> Result<Array, JsValue> {
    let (note, models) = open_project(bytes).map_err(error)?;
    let opened = Array::of1(&to_json(&note)?.into());
    for model in &models {
        opened.push(&Uint8Array::from(&model[..]));
    }
    Ok(opened)
}
