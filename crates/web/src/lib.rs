//! The wasm face of the planner: what workers call. No logic; every method is one call of
//! `seamwright_plan::remote`.
//!
//! Records cross as JSON (types in `www/src/planner/records.ts`), arrays as arrays of their own,
//! ready to be transferred. Errors are JavaScript errors with the planner's sentence.
//! A panic ends the instance: the pool replaces its worker (`www/src/planner/lane.ts`); its words can be asked for
//! before that ([`last_panic`]).

mod finder;
mod keeper;
mod searcher;

use js_sys::Error;
use seamwright_plan::remote::keeper::json;
use std::cell::RefCell;
use wasm_bindgen::prelude::*;

thread_local! {
    static LAST_PANIC: RefCell<Option<String>> = const { RefCell::new(None) };
}

/// Keeps the words of a panic, which ends the instance before they could be returned.
#[wasm_bindgen(start)]
pub fn start() {
    std::panic::set_hook(Box::new(|panic| {
        LAST_PANIC.with(|last| last.replace(Some(panic.to_string())));
    }));
}

/// What the last panic said and where it was, if there was one.
#[must_use]
#[wasm_bindgen(js_name = lastPanic)]
pub fn last_panic() -> Option<String> {
    LAST_PANIC.with(|last| last.borrow().clone())
}

/// The sentence of any error as a JavaScript error.
fn error(why: impl std::fmt::Display) -> JsValue {
    Error::new(&why.to_string()).into()
}

/// A record out of JSON.
fn from_json<T: for<'a> serde::Deserialize<'a>>(text: &str) -> Result<T, JsValue> {
    serde_json::from_str(text).map_err(error)
}

/// A record as JSON.
fn to_json<T: serde::Serialize>(record: &T) -> Result<String, JsValue> {
    json(record).map_err(error)
}
