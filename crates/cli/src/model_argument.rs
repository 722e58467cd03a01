//! `vambrace.stl:role=vambrace,scale=1.04,pair`: a file and its own settings.

use anyhow::{Context, Result, bail};
use seamwright_mesh::Unit;
use seamwright_mesh::mend::LeftOut;
use seamwright_mesh::units::Up;
use seamwright_plan::job::{ItemSettings, Mend, ROLES, WALLS_MM};
use seamwright_plan::limits::LEAST_SIMPLIFIED;
use std::path::PathBuf;

/// Splits an argument into the file and its settings, over `defaults`.
///
/// # Errors
/// Says which setting is wrong and what is allowed.
pub fn parse(argument: &str, defaults: &ItemSettings) -> Result<(PathBuf, ItemSettings)> {
    // A drive letter or a name may hold a colon: settings follow the last one, if they look like it.
    let parts =
        argument.rsplit_once(':').filter(|(file, rest)| file.len() > 1 && !rest.contains(['/', '\\']));
    let exists = PathBuf::from(argument).exists();
    let Some((file, rest)) = parts.filter(|_| !exists) else {
        return Ok((argument.into(), defaults.clone()));
    };
    let mut settings = defaults.clone();
    for setting in rest.split(',').filter(|s| !s.is_empty()) {
        let (name, value) = setting.split_once('=').unwrap_or((setting, ""));
        apply(&mut settings, name, value).with_context(|| format!("{argument}: setting {setting}"))?;
    }
    Ok((file.into(), settings))
}

/// Sets one named setting.
///
/// # Errors
/// Says what is allowed.
pub fn apply(settings: &mut ItemSettings, name: &str, value: &str) -> Result<()> {
    match name {
        "role" if ROLES.contains(&value) => settings.role = Some(value.into()),
        "role" => bail!("a role is one of {}", ROLES.join(", ")),
        "scale" | "height" | "volume-cm3" => {
            let number: f64 = value.parse().context("a number is needed")?;
            if !number.is_finite() || number <= 0.0 {
                bail!("a positive number is needed");
            }
            // Three ways to say one thing: the last said holds.
            (settings.scale, settings.height_mm, settings.volume_cm3) = (None, None, None);
            match name {
                "scale" => settings.scale = Some(number),
                "height" => settings.height_mm = Some(number),
                _ => settings.volume_cm3 = Some(number),
            }
        }
        "units" => {
            let known = [Unit::Mm, Unit::Cm, Unit::Dm, Unit::M, Unit::Inch];
            let unit = known.into_iter().find(|unit| unit.name() == value);
            settings.units = Some(unit.context("a unit is mm, cm, dm, m or inch")?);
        }
        "up" => {
            settings.up = Some(match value {
                "x" => Up::X,
                "y" => Up::Y,
                "z" => Up::Z,
                _ => bail!("an axis is x, y or z"),
            });
        }
        "pair" if value.is_empty() => settings.pair = true,
        "copies" => {
            let copies: u32 = value.parse().context("a whole number is needed")?;
            if !(1..=99).contains(&copies) {
                bail!("1 to 99 copies can be made");
            }
            settings.copies = Some(copies);
        }
        "part" => settings.part = Some(value.parse().context("a whole number is needed")?),
        "mend" => settings.mend = Mend::named(value).map_err(anyhow::Error::msg)?,
        "leave-out" => settings.leave_out = LeftOut::named(value.split('+')).map_err(anyhow::Error::msg)?,
        "wall" => {
            let wall_mm: f64 = value.parse().context("a number is needed")?;
            if !WALLS_MM.contains(&wall_mm) {
                bail!("a wall is {} to {} mm", WALLS_MM.start(), WALLS_MM.end());
            }
            settings.wall_mm = Some(wall_mm);
        }
        "simplify" => {
            let n: u32 = value.parse().context("a whole number is needed")?;
            if n < LEAST_SIMPLIFIED {
                bail!("{LEAST_SIMPLIFIED} triangles are the least");
            }
            settings.simplify = Some(n);
        }
        "unite" if value.is_empty() => settings.unite = true,
        _ => bail!(
            "known are role=, scale=, height=, volume-cm3=, units=, up=, pair, copies=, part=, mend=, leave-out=, wall=, unite and simplify="
        ),
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_follow_the_last_colon_and_override_what_holds_for_all() {
        let all = ItemSettings { scale: Some(2.0), up: Some(Up::Y), ..ItemSettings::default() };
        let (file, settings) = parse(
            "parts/a:b.stl:role=helm,height=300,pair,copies=2,mend=wall,leave-out=weld+dust,wall=1.2,unite,simplify=5000",
            &all,
        )
        .unwrap();
        assert_eq!(file, PathBuf::from("parts/a:b.stl"));
        assert_eq!((settings.scale, settings.height_mm), (None, Some(300.0)));
        assert_eq!((settings.up, settings.pair, settings.copies), (Some(Up::Y), true, Some(2)));
        assert_eq!((settings.mend, settings.wall_mm), (Mend::Wall, Some(1.2)));
        assert_eq!(settings.leave_out.names(), ["weld", "dust"]);
        assert_eq!((settings.unite, settings.simplify), (true, Some(5000)));
        assert_eq!(settings.role.as_deref(), Some("helm"));
    }

    #[test]
    fn wrong_settings_say_what_is_allowed() {
        for (argument, expected) in [
            ("a.stl:role=king", "a role is one of"),
            ("a.stl:scale=-1", "positive"),
            ("a.stl:units=furlong", "a unit is"),
            ("a.stl:mend=maybe", "mending is as-it-looks, fill, wall, no"),
            ("a.stl:leave-out=nothing", "a step of mending is weld, duplicates"),
            ("a.stl:wall=0", "a wall is 0.2 to 25 mm"),
            ("a.stl:colour=red", "known are"),
        ] {
            let error = format!("{:#}", parse(argument, &ItemSettings::default()).unwrap_err());
            assert!(error.contains(expected), "{error}");
        }
    }
}
