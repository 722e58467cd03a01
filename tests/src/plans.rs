//! Plans made in memory, for tests that look at what came out.

use crate::folders::stl;
use crate::shapes::Mesh;
use seamwright_bed::Bed;
use seamwright_plan::job::{Budget, ItemSettings, ModelInput, News, Options, Watch};
use seamwright_plan::make::{Made, make_plan};
use seamwright_seams::outline::Prefer;

/// Neither clock nor hand, which a search bounded by effort does not need; hears how many pieces each
/// round told.
#[derive(Default)]
pub struct Counting(pub std::sync::Mutex<Vec<usize>>);

impl Watch for Counting {
    fn seconds(&self) -> f64 {
        0.0
    }

    fn stop(&self) -> bool {
        false
    }

    fn interrupted(&self) -> bool {
        false
    }

    fn tell(&self, news: News) {
        if let News::Round { pieces, .. } = news {
            self.0.lock().expect("nobody else failed").push(pieces);
        }
    }
}

/// A model of a mesh in mm with Z up.
pub fn model(name: &str, mesh: &Mesh) -> ModelInput {
    // Files in mm with Z up say so: nothing is to be guessed here.
    let settings = ItemSettings {
        units: Some(seamwright_mesh::Unit::Mm),
        up: Some(seamwright_mesh::units::Up::Z),
        ..ItemSettings::default()
    };
    ModelInput { name: format!("{name}.stl"), bytes: stl(mesh), settings }
}

/// A bed as typed, with this margin.
pub fn bed(text: &str, margin_mm: f64) -> Bed {
    let mut bed = Bed::parse(text).expect("a bed of these tests");
    bed.margin_mm = margin_mm;
    bed
}

/// So many rounds for these beds, on two threads.
pub fn options(beds: &[Bed], effort: u64) -> Options {
    Options {
        beds: beds.to_vec(),
        prefer: Prefer::Balanced,
        budget: Budget::Effort(effort),
        seed: 1,
        n_threads: 2,
        posed: false,
        no_models: false,
    }
}

/// The plan; panics where there is none.
pub fn plan(models: &[ModelInput], options: &Options) -> Made {
    make_plan(models.to_vec(), options, &Counting::default()).expect("the test's costume can be planned")
}
