//! What a field holds, in words: for the schema's descriptions and the reference page.

use crate::kind::{Band, Field, Form, Kind, Meaning, Quant, Refers};
use worked::{Dimension, Unit};

/// The type of a field in a few words: `torque`, `` `brake` or `coast` ``, `table`.
pub(crate) fn holds(form: &Form) -> String {
    match form {
        Form::Quantity(quant) => measures(quant),
        Form::Window(quant) => format!("window of {}", measures(quant)),
        Form::Ratio => "exact ratio: `27`, `\"26 20/21\"`, teeth `\"60:12\"`".to_owned(),
        Form::Whole { within, per_rev, .. } => {
            let most = if within.1 > 1_000_000_000 { "…".to_owned() } else { within.1.to_string() };
            format!("whole number{}, {} to {most}", if *per_rev { " a revolution" } else { "" }, within.0)
        }
        Form::Choice { words, .. } => {
            let words: Vec<String> = words.iter().map(|w| format!("`{}`", w.word)).collect();
            words.join(", ")
        }
        Form::Flag { .. } => "`true` or `false`".to_owned(),
        Form::Text(refers) => refers_to(*refers).unwrap_or("text").to_owned(),
        Form::Texts(refers) => format!("{}, or a list", refers_to(*refers).unwrap_or("text")),
        Form::Table(kind) => match kind.shorthand {
            Some(key) => format!("table [{0}](#{1}), or its `{key}` alone", kind.name, anchor(kind)),
            None => format!("table [{}](#{})", kind.name, anchor(kind)),
        },
        Form::Flat(_) => String::new(),
        Form::Tables(kind) => format!("list of tables [{}](#{})", kind.name, anchor(kind)),
        Form::Named(kind) => format!("tables by name [{}](#{})", kind.name, anchor(kind)),
        Form::Settings { quant, or_name } => {
            let or = if *or_name { " (or the name of a setting)" } else { "" };
            format!("{} by name{or}", measures(quant))
        }
        Form::Map { refers, table } => {
            let value = refers_to(*refers).unwrap_or("text");
            match table {
                Some(kind) => {
                    format!("{value} (or a list, or a table [{}](#{})) by name", kind.name, anchor(kind))
                }
                None => format!("{value} by name"),
            }
        }
        Form::Part(kind) => format!("part file of kind [{}](#{})", kind.name, anchor(kind)),
    }
}

/// What holds where a field is silent or states no tolerance; empty where nothing does.
pub(crate) fn otherwise(field: &Field) -> String {
    if field.required {
        return "required".to_owned();
    }
    match &field.form {
        Form::Quantity(quant) => quantity_otherwise(quant),
        Form::Window(_) => "a range; its ends are limits".to_owned(),
        Form::Settings { quant, .. } => quantity_otherwise(quant),
        Form::Choice { words, default: Some(index) } => {
            words.get(*index).map_or_else(String::new, |word| format!("else `{}`", word.word))
        }
        Form::Flag { default: Some(value) } => format!("else `{value}`"),
        _ => String::new(),
    }
}

fn quantity_otherwise(quant: &Quant) -> String {
    let mut parts = Vec::new();
    match quant.band {
        Band::Percent(below, above) if below == above => {
            parts.push(format!("±{above} % where no tolerance is stated"))
        }
        Band::Percent(below, above) => {
            parts.push(format!("−{below} % to +{above} % where no tolerance is stated"));
        }
        Band::Exact => {}
    }
    if quant.meaning == Meaning::Varies {
        parts.push("a range is a variation in use".to_owned());
    }
    if quant.setting.is_some() {
        parts.push("a setting".to_owned());
    }
    if let Some(default) = quant.default {
        let value = default_text(default.si, quant.dimension);
        let source = if default.standard {
            default.source.to_owned()
        } else {
            format!("{}; common practice, no source", default.source)
        };
        parts.push(format!("else {value} ({source})"));
    }
    parts.join("; ")
}

fn default_text(si: f64, dimension: Dimension) -> String {
    let unit = Unit::si(dimension);
    format!("{} {}", unit.from_si(si), unit.symbol()).trim_end().to_owned()
}

/// `torque`, `length or angle`.
pub(crate) fn measures(quant: &Quant) -> String {
    let mut names = vec![dimension_name(quant)];
    names.extend(quant.also.iter().map(ToString::to_string));
    names.join(" or ")
}

fn dimension_name(quant: &Quant) -> String {
    match quant.dimension {
        Dimension::TRAVEL_PER_ANGLE if quant.lead => "length a turn".to_owned(),
        Dimension::TRAVEL_PER_ANGLE => "length (radius)".to_owned(),
        Dimension::NONE => "number".to_owned(),
        dimension => dimension.to_string(),
    }
}

/// A text of that dimension as one would write it.
pub(crate) fn example(quant: &Quant) -> String {
    let unit = match quant.dimension {
        Dimension::TRAVEL_PER_ANGLE => "mm".to_owned(),
        Dimension::NONE => return "0.8".to_owned(),
        dimension => Unit::si(dimension).symbol().to_owned(),
    };
    format!("1 {unit}")
}

fn refers_to(refers: Refers) -> Option<&'static str> {
    Some(match refers {
        Refers::Free => return None,
        Refers::Source => "supply or rail (`drive`, `controller.J1.5V`)",
        Refers::Supply => "supply",
        Refers::Channel => "channel (`board.A`)",
        Refers::Axis => "axis",
        Refers::Mover => "axis or servo",
        Refers::Motion => "motion",
        Refers::Trial => "trial",
        Refers::Place => "place (`device.connector.pin`)",
        Refers::Signal => "signal of this part",
        Refers::DeviceSignal => "signal (`board:A.pwm`)",
        Refers::OwnChannel => "channel of this board",
        Refers::OwnRail => "supply input or rail of this part",
        Refers::OwnServo => "servo output of this board",
        Refers::OwnConnector => "connector of this part",
        Refers::File => "file of the bench folder",
    })
}

/// Anchor of a kind's section on the reference page.
pub(crate) fn anchor(kind: &Kind) -> String {
    kind.name.to_lowercase().replace(' ', "-")
}
