//! Every flag once: help and reading come from here.

use clap::{Arg, ArgAction, ArgMatches, Command, value_parser};
use seamwright_plan::job::Mend;
use std::path::PathBuf;

/// The whole command line.
pub fn command() -> Command {
    Command::new("seamwright")
        .version(env!("CARGO_PKG_VERSION"))
        .about("Plans how a large model is cut into pieces that fit a printer's bed")
        .subcommand_required(true)
        .arg_required_else_help(true)
        .subcommand(plan())
        .subcommand(inspect())
        .subcommand(audit())
        .subcommand(unbuilt("compare", "The same costume on several beds (not built yet)"))
        .subcommand(unbuilt("rings", "Scale for a wearer and fitting rings (not built yet)"))
}

fn unbuilt(name: &'static str, about: &'static str) -> Command {
    let rest = Arg::new("rest").num_args(0..).trailing_var_arg(true).allow_hyphen_values(true);
    Command::new(name).about(about).arg(rest.hide(true))
}

fn text(name: &'static str, value: &'static str, help: &'static str) -> Arg {
    Arg::new(name).long(name).value_name(value).help(help)
}

fn number(name: &'static str, value: &'static str, help: &'static str) -> Arg {
    let arg = Arg::new(name).long(name).value_name(value).help(help);
    // A negative number is refused by what it would be, not as an unknown flag.
    arg.value_parser(value_parser!(f64)).allow_negative_numbers(true)
}

fn flag(name: &'static str, help: &'static str) -> Arg {
    Arg::new(name).long(name).help(help).action(ArgAction::SetTrue)
}

fn several(arg: Arg) -> Arg {
    arg.action(ArgAction::Append)
}

fn plan() -> Command {
    Command::new("plan")
        .about("Cuts models into pieces that fit the beds and lays them on loads")
        .after_help(
            "A model may carry its own settings: vambrace.stl:role=vambrace,scale=1.04,pair\n\
             Settings: role=ROLE scale=F height=MM volume-cm3=V units=UNIT up=AXIS pair copies=N part=N\n\
             mend=as-it-looks|fill|wall|no leave-out=STEP+STEP wall=MM unite simplify=N\n\
             --margin, --gap and --keep-out after a --bed belong to that bed, before any to all.\n\
             Ctrl-C ends the search; the best plan found is still written. Pressed before the first plan,\n\
             or again after the search, it ends the program at once and writes nothing.",
        )
        .arg(
            Arg::new("models")
                .value_name("MODEL")
                .num_args(1..)
                .required(true)
                .help("STL, OBJ, PLY, OFF or 3MF files, or one project (*.seam.json)"),
        )
        .arg(several(text("bed", "WxDxH", "Bed in mm, or dDIAxH if round; @N for N such printers")))
        .arg(several(text("printer", "CARD.json", "A printer card instead of a bed")))
        .arg(
            several(text("keep-out", "X,Y,W,D", "Area of the bed nothing may stand on, in mm"))
                .allow_hyphen_values(true),
        )
        .arg(several(number("margin", "MM", "Kept free on each side and at the top [5]")))
        .arg(several(number("gap", "MM", "Kept free between pieces of a load [5]")))
        .arg(
            text("out", "DIR", "Folder for the plan; an earlier plan there is replaced")
                .value_parser(value_parser!(PathBuf))
                .required(true),
        )
        .arg(number("scale", "F", "Factor on the size in the file"))
        .arg(number("height", "MM", "Largest extent along Z"))
        .arg(number("volume-cm3", "V", "Volume of the item"))
        .arg(text("units", "UNIT", "Unit of the files: mm, cm, dm, m or inch"))
        .arg(text("up", "AXIS", "Axis of the files that points up: x, y or z"))
        .args(mending())
        .arg(flag("unite", "Bodies that overlap become one solid; else each is cut by itself"))
        .arg(text(
            "simplify",
            "N",
            "Models of more triangles are simplified to N; how far that moves the surface is told",
        ))
        .arg(text("wearer", "W.json", "Size by a wearer's measures (not built yet)"))
        .arg(
            text("prefer", "WHAT", "fewest: pieces before all; hidden: the shortest seam lines")
                .value_parser(["fewest", "hidden"]),
        )
        .arg(
            text("material", "NAME", "Filament; has no effect yet")
                .value_parser(["pla", "petg", "abs", "asa", "tpu"]),
        )
        .arg(text("joints", "WHICH", "Joints in the seams; none are made yet").value_parser(["auto", "none"]))
        .arg(number("seconds", "S", "Search time for the whole call [20]").conflicts_with("effort"))
        .arg(
            text("effort", "N", "Rounds of search instead of a time: the same result everywhere")
                .value_parser(value_parser!(u64)),
        )
        .arg(text("seed", "N", "Seed of the search [1]").value_parser(value_parser!(u64)))
        .arg(text("threads", "N", "Threads to work on").value_parser(value_parser!(u64).range(1..=256)))
        .arg(flag("posed", "Also write every piece in its pose"))
        .arg(flag("no-models", "Leave the models out of the project file"))
        .arg(flag("quiet", "No progress"))
        .arg(flag("force", "Replace DIR even if it holds other things"))
}

/// How models that are not closed are mended.
fn mending() -> [Arg; 3] {
    [
        text("mend", "HOW", "Models that are not closed: as-it-looks patches holes and gives open surfaces a wall; fill, wall, no [as-it-looks]")
            .value_parser(Mend::NAMES.map(|(_, name)| name)),
        text("leave-out", "STEP+STEP", "Steps of mending that are not done, by the names `inspect` gives them after mended-"),
        text("wall", "MM", "Wall that a single-sided surface gets [2.4]"),
    ]
}

fn inspect() -> Command {
    Command::new("inspect")
        .about("Tells what a file holds and what is wrong with it")
        .arg(
            Arg::new("model")
                .value_name("MODEL")
                .required(true)
                .value_parser(value_parser!(PathBuf))
                .help("STL, OBJ, PLY, OFF or 3MF file"),
        )
        .args(mending())
        .arg(flag("json", "As JSON"))
        .arg(flag("strict", "Refuse what the format's standard forbids"))
}

fn audit() -> Command {
    Command::new("audit").about("Re-checks a plan folder from its files alone").arg(
        Arg::new("dir")
            .value_name("DIR")
            .required(true)
            .value_parser(value_parser!(PathBuf))
            .help("A plan folder"),
    )
}

/// Values of a repeatable argument with their places on the command line.
pub fn placed<T: Clone + Send + Sync + 'static>(matches: &ArgMatches, name: &str) -> Vec<(usize, T)> {
    let places = matches.indices_of(name).into_iter().flatten();
    places.zip(matches.get_many::<T>(name).into_iter().flatten().cloned()).collect()
}
