//! The project file (`*.seam.json`): what was asked and what was decided, no results.
//!
//! How: models with their settings and SHA-256, the file itself as base64 unless it is left out;
//! beds as in `plan.json`; preference, seed and effort; the cutting planes of every item. Plain
//! records in a fixed order, so equal projects are equal bytes.
//! Units: mm in item coordinates, cm3 where a setting is given so.
//! Trusts nothing it reads: formats, hashes, settings, beds and file names are checked before use.
//! Not here: finding models beside the file (the caller hands over a function), cutting along the
//! planes again: a reopened project searches anew from its models, beds and options.

mod settings;

pub use settings::{SettingsRecord, UNITS, UPS, settings_of_record, settings_record};

use crate::PlanError;
use crate::card::{bed_of_record, bed_record};
use crate::item::sha256_hex;
use crate::job::{Budget, ModelInput, Options};
use crate::records::marks::BegunRecord;
use crate::records::{self, PlaneRecord};
use base64::Engine;
use base64::display::Base64Display;
use base64::engine::general_purpose::STANDARD as BASE64;
use seamwright_bed::Bed;
use seamwright_seams::outline::Prefer;
use serde::{Deserialize, Serialize};

/// `format` of a project.
pub const PROJECT_FORMAT: &str = "seamwright-project";
/// `version` of a project.
pub const PROJECT_VERSION: u32 = 1;
/// How the names of project files end.
pub const PROJECT_ENDING: &str = ".seam.json";
/// The project's name in a plan folder.
pub const PROJECT_FILE: &str = "costume.seam.json";

/// Preferences and their names.
pub const PREFERS: [(Prefer, &str); 3] =
    [(Prefer::Balanced, "balanced"), (Prefer::Fewest, "fewest"), (Prefer::Hidden, "hidden")];

/// Why a project cannot be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ProjectError {
    /// It is not JSON, or a field is missing or of the wrong kind; the text holds line and column.
    #[error("not a project: {0}")]
    Json(#[from] serde_json::Error),
    /// JSON of something else.
    #[error("not a project: it does not say \"format\": {PROJECT_FORMAT:?}")]
    NoFormat,
    /// Another format or version.
    #[error(
        "this is {format:?} version {version}; a project is {PROJECT_FORMAT:?} version {PROJECT_VERSION}"
    )]
    Format {
        /// The format named.
        format: String,
        /// Its version.
        version: u64,
    },
    /// It holds no models.
    #[error("the project holds no models")]
    Empty,
    /// A model of it is of no use.
    #[error("model {name}: {why}")]
    Model {
        /// File name in the project.
        name: String,
        /// What is wrong.
        why: String,
    },
    /// A bed of it is of no use.
    #[error("bed {id}: {why}")]
    Bed {
        /// Id in the project.
        id: String,
        /// What is wrong.
        why: String,
    },
    /// An option of it is not known.
    #[error("option prefer is {0:?}; known are balanced, fewest and hidden")]
    Prefer(String),
}

/// All of a project file; `Data` is how the files of models stand in it: text as read, or their
/// bytes, made text while they are written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Project<Data = String> {
    format: String,
    version: u32,
    models: Vec<ModelRecord<Data>>,
    beds: Vec<records::Bed>,
    options: OptionsRecord,
    #[serde(default)]
    decisions: Vec<Decision>,
}

/// What was decided about one item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Decision {
    /// Id of the item; copies and mirrored sides follow theirs.
    pub item: String,
    /// Where it is cut, in order, in item coordinates.
    pub planes: Vec<PlaneRecord>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct ModelRecord<Data> {
    name: String,
    sha256: String,
    settings: SettingsRecord,
    #[serde(skip_serializing_if = "Option::is_none")]
    data: Option<Data>,
}

/// Bytes that are written as base64.
struct AsBase64<'a>(&'a [u8]);

impl Serialize for AsBase64<'_> {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        // Piece by piece: whole, the text of a large file would be the most of a plan's memory.
        to.collect_str(&Base64Display::new(self.0, &BASE64))
    }
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct OptionsRecord {
    prefer: String,
    seed: u64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    effort: Option<u64>,
}

#[derive(Deserialize)]
struct Head {
    #[serde(default)]
    format: Option<String>,
    #[serde(default)]
    version: u64,
}

/// What a model or the rest of a project takes beside the data, generously.
const OTHER_BYTES: usize = 16_384;

/// The bytes of the project file of a plan; `begun` holds for the models in their order the cuts a search begins
/// with.
///
/// # Errors
/// [`PlanError::Write`] where a number is not finite.
pub fn project_bytes(
    models: &[ModelInput],
    options: &Options,
    begun: &[BegunRecord],
    decisions: Vec<Decision>,
) -> Result<Vec<u8>, PlanError> {
    let prefer = PREFERS.iter().find(|(p, _)| *p == options.prefer).map_or("balanced", |(_, name)| name);
    let effort = match options.budget {
        Budget::Effort(rounds) => Some(rounds),
        Budget::Watch => None,
    };
    let project = Project {
        format: PROJECT_FORMAT.into(),
        version: PROJECT_VERSION,
        models: (0..models.len()).map(|i| record_of(&models[i], options, begun.get(i))).collect(),
        beds: options.beds.iter().map(bed_record).collect(),
        options: OptionsRecord { prefer: prefer.into(), seed: options.seed, effort },
        decisions,
    };
    let n_data: usize = project.models.iter().filter_map(|m| m.data.as_ref()).map(|data| data.0.len()).sum();
    // Room for the text at once: grown by doubling, it would for a moment stand there twice.
    let room = base64::encoded_len(n_data, true).unwrap_or(0) + OTHER_BYTES * (1 + models.len());
    records::to_json_in(Vec::with_capacity(room), &project).map_err(|e| PlanError::Write(e.to_string()))
}

fn record_of<'a>(
    model: &'a ModelInput,
    options: &Options,
    begun: Option<&BegunRecord>,
) -> ModelRecord<AsBase64<'a>> {
    ModelRecord {
        name: file_name(&model.name).into(),
        sha256: sha256_hex(&model.bytes),
        settings: settings_record(&model.settings).begun_with(begun.cloned().unwrap_or_default()),
        data: (!options.no_models).then_some(AsBase64(&model.bytes)),
    }
}

impl Project {
    /// Reads a project file.
    ///
    /// # Errors
    /// [`ProjectError`] where it is none, of another version, or holds no models.
    pub fn read(bytes: &[u8]) -> Result<Self, ProjectError> {
        // Before all else: another format or version is that, not a missing field.
        let head: Head = serde_json::from_slice(bytes)?;
        let Some(format) = head.format else { return Err(ProjectError::NoFormat) };
        if format != PROJECT_FORMAT || head.version != u64::from(PROJECT_VERSION) {
            return Err(ProjectError::Format { format, version: head.version });
        }
        let project: Self = serde_json::from_slice(bytes)?;
        if project.models.is_empty() { Err(ProjectError::Empty) } else { Ok(project) }
    }

    /// The models; `find` reads a file of that name beside the project, or says why it cannot.
    ///
    /// # Errors
    /// [`ProjectError::Model`] naming the model: base64, hash, setting or missing file.
    pub fn models(
        &self,
        find: &dyn Fn(&str) -> Result<Vec<u8>, String>,
    ) -> Result<Vec<ModelInput>, ProjectError> {
        let one = |record: &ModelRecord<String>| -> Result<ModelInput, String> {
            if record.name.is_empty() || file_name(&record.name) != record.name || record.name == ".." {
                return Err("the name is not a file name".into());
            }
            let settings = settings_of_record(&record.settings)?;
            let (bytes, whence) = match &record.data {
                Some(text) => {
                    let bytes = BASE64.decode(text).map_err(|e| format!("its data is not base64: {e}"))?;
                    (bytes, "its data in the project")
                }
                None => (find(&record.name)?, "the file beside the project"),
            };
            let found = sha256_hex(&bytes);
            if !found.eq_ignore_ascii_case(&record.sha256) {
                return Err(format!(
                    "{whence} is not the model of the project: its SHA-256 is {found}, due is {}",
                    record.sha256
                ));
            }
            Ok(ModelInput { name: record.name.clone(), bytes, settings })
        };
        self.models
            .iter()
            .map(|record| one(record).map_err(|why| ProjectError::Model { name: record.name.clone(), why }))
            .collect()
    }

    /// The beds.
    ///
    /// # Errors
    /// [`ProjectError::Bed`] naming the bed.
    pub fn beds(&self) -> Result<Vec<Bed>, ProjectError> {
        let one = |bed| bed_of_record(bed).map_err(|why| ProjectError::Bed { id: bed.id.clone(), why });
        self.beds.iter().map(one).collect()
    }

    /// What the maker prefers.
    ///
    /// # Errors
    /// [`ProjectError::Prefer`] where the word is not known.
    pub fn prefer(&self) -> Result<Prefer, ProjectError> {
        let known = PREFERS.iter().find(|(_, name)| *name == self.options.prefer);
        known.map(|(prefer, _)| *prefer).ok_or_else(|| ProjectError::Prefer(self.options.prefer.clone()))
    }

    /// Seed of the search.
    pub fn seed(&self) -> u64 {
        self.options.seed
    }

    /// Rounds of search, where the project fixes them.
    pub fn effort(&self) -> Option<u64> {
        self.options.effort
    }

    /// The planes decided on.
    pub fn decisions(&self) -> &[Decision] {
        &self.decisions
    }
}

fn file_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{ItemSettings, Mend};
    use crate::records::marks::{ChalkDab, ChalkKind, MarksRecord, SeamMark};
    use seamwright_mesh::Unit;
    use seamwright_mesh::mend::LeftOut;
    use seamwright_mesh::units::Up;

    fn options(no_models: bool) -> Options {
        let mut bed = Bed::parse("d260x300@2").unwrap();
        bed.margin_mm = 3.0;
        bed.gap_mm = 7.5;
        bed.add_keep_out("0,0,30,40").unwrap();
        Options {
            beds: vec![bed, Bed::parse("220x210x250").unwrap()],
            prefer: Prefer::Hidden,
            budget: Budget::Effort(3),
            seed: u64::MAX,
            n_threads: 1,
            posed: false,
            no_models,
        }
    }

    fn marks() -> MarksRecord {
        let plane = PlaneRecord { normal: [0.0, 0.6, 0.8], offset_mm: 1.0 / 7.0 };
        let dab = |kind| ChalkDab { kind, at_mm: [1.0, 2.0, 1.0 / 9.0], radius_mm: 12.5 };
        MarksRecord {
            size_mm: [100.0, 120.0, 140.0],
            locked: vec![SeamMark { plane, at_mm: [0.5, 0.0, 0.0], inside_mm: vec![[0.25, 0.0, 0.0]] }],
            forbidden: vec![SeamMark::new(plane, [0.0, 0.1, 0.0])],
            chalk: vec![dab(ChalkKind::Off), dab(ChalkKind::In)],
            printed: vec![[7.0, 8.0, 9.0]],
        }
    }

    fn models() -> Vec<ModelInput> {
        let every = ItemSettings {
            role: Some("helm".into()),
            scale: Some(1.1),
            height_mm: Some(0.1 + 0.2),
            volume_cm3: None,
            units: Some(Unit::Inch),
            up: Some(Up::Y),
            pair: true,
            copies: Some(2),
            part: Some(1),
            mend: Mend::Wall,
            leave_out: LeftOut::named(["weld", "dust"]).unwrap(),
            wall_mm: Some(1.6),
            unite: true,
            simplify: Some(200_000),
            marks: marks(),
            begun: BegunRecord { size_mm: marks().size_mm, cuts: marks().locked },
        };
        let input = |name: &str, bytes: &[u8], settings| ModelInput {
            name: name.into(),
            bytes: bytes.into(),
            settings,
        };
        vec![
            input("some/where/Helm one.stl", b"\0\xff solid", every),
            input("cup.obj", b"v 0 0 0\n", ItemSettings::default()),
        ]
    }

    fn decisions() -> Vec<Decision> {
        let planes = vec![PlaneRecord { normal: [0.6, 0.0, 0.8], offset_mm: 1.0 / 3.0 }];
        vec![Decision { item: "helm-one".into(), planes }]
    }

    fn begun() -> Vec<BegunRecord> {
        models().into_iter().map(|model| model.settings.begun).collect()
    }

    fn text(no_models: bool) -> String {
        String::from_utf8(project_bytes(&models(), &options(no_models), &begun(), decisions()).unwrap())
            .unwrap()
    }

    fn no_file(name: &str) -> Result<Vec<u8>, String> {
        Err(format!("{name} is not there"))
    }

    #[test]
    fn what_is_written_is_read_back_the_same_and_holds_no_path() {
        assert_eq!(text(false), text(false));
        assert!(!text(false).contains("some/where"));
        let project = Project::read(text(false).as_bytes()).unwrap();
        let back = project.models(&no_file).unwrap();
        for (found, due) in back.iter().zip(models()) {
            assert_eq!((&found.bytes, &found.settings), (&due.bytes, &due.settings));
        }
        assert_eq!([&*back[0].name, &*back[1].name], ["Helm one.stl", "cup.obj"]);
        assert_eq!(project.beds().unwrap(), options(false).beds);
        assert_eq!(
            (project.prefer().unwrap(), project.seed(), project.effort()),
            (Prefer::Hidden, u64::MAX, Some(3))
        );
        assert_eq!(project.decisions(), decisions());
    }

    #[test]
    fn models_left_out_are_found_by_name_and_proved_by_hash() {
        let project = Project::read(text(true).as_bytes()).unwrap();
        let beside = |name: &str| {
            let all = models();
            let model = all.iter().find(|model| file_name(&model.name) == name);
            model.map(|model| model.bytes.clone()).ok_or_else(|| "is not there".to_string())
        };
        assert_eq!(project.models(&beside).unwrap()[1].bytes, models()[1].bytes);
        let missing = project.models(&no_file).unwrap_err().to_string();
        assert_eq!(missing, "model Helm one.stl: Helm one.stl is not there");
        let other = project.models(&|_| Ok(b"another".to_vec())).unwrap_err().to_string();
        assert!(other.contains("the file beside the project is not the model"), "{other}");
    }

    #[test]
    fn what_is_wrong_with_a_project_is_said() {
        let good = text(false);
        let said = |from: &str, to: &str| {
            assert!(good.contains(from), "{from} is not in {good}");
            let bad = good.replacen(from, to, 1);
            let tried = Project::read(bad.as_bytes()).and_then(|project| {
                project.beds()?;
                project.prefer()?;
                project.models(&no_file)
            });
            tried.unwrap_err().to_string()
        };
        for (from, to, due) in [
            ("seamwright-project", "seamwright-plan", "this is \"seamwright-plan\" version 1"),
            ("\"version\": 1", "\"version\": 2", "version 2; a project is"),
            ("\"format\"", "\"kind\"", "not a project: it does not say \"format\": \"seamwright-project\""),
            ("\"models\": [", "\"model\": [", "missing field `models`"),
            ("{", "", "not a project"),
            ("\"data\": \"", "\"data\": \"!", "model Helm one.stl: its data is not base64"),
            ("\"data\": \"AP8", "\"data\": \"AAA", "model Helm one.stl: its data in the project is not"),
            ("Helm one.stl", "../one.stl", "the name is not a file name"),
            ("Helm one.stl", "..", "the name is not a file name"),
            ("\"helm\"", "\"king\"", "role \"king\" is not one of helm"),
            ("\"scale\": 1.1", "\"scale\": -1.1", "scale is -1.1, a positive number"),
            ("\"inch\"", "\"furlong\"", "unit \"furlong\""),
            ("\"y\"", "\"up\"", "axis \"up\""),
            ("\"copies\": 2", "\"copies\": 0", "1 to 99 copies"),
            ("\"hidden\"", "\"pretty\"", "option prefer is \"pretty\""),
            ("\"margin_mm\": 3.0", "\"margin_mm\": 130.0", "bed d260x300: a margin of 130 mm"),
            ("\"count\": 2", "\"count\": 0", "bed d260x300: "),
        ] {
            let text = said(from, to);
            assert!(text.contains(due), "{text}");
        }
        assert!(Project::read(b"{\"format\":\"seamwright-project\",\"version\":1,\"models\":[],\"beds\":[],\"options\":{\"prefer\":\"hidden\",\"seed\":1}}").is_err());
        assert!(Project::read(b"").is_err());
    }
}
