//! What a rule is: an id, the row of the trade's list it answers, its page, and the function that looks.

use crate::ruling::Ruling;
use crate::view::View;

/// One rule of the rule book.
#[derive(Clone, Copy)]
pub struct Rule {
    /// Stable id in plain words: `motor-voltage-against-bus`.
    pub id: &'static str,
    /// The row of the trade's list of compatibility checks that it answers, in its words.
    pub row: &'static str,
    /// Which part of the bench it speaks of.
    pub group: Group,
    /// Its page: what it looks at, why, examples, source. Markdown.
    pub page: &'static str,
    /// Looks at a bench and judges.
    pub look: fn(&View<'_>, &mut Ruling<'_>),
}

/// Which part of the bench a rule speaks of.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Group {
    /// Whether the figures of a sheet agree with one another.
    Data,
    /// Supplies, limits, bridges, cables, fuses, returned energy.
    Power,
    /// Levels, pulls, defaults at power-up, rails.
    Logic,
    /// Torque, speed, gear, load, stops.
    Mechanics,
    /// Windings, bridges, cases.
    Heat,
    /// Encoders, sense lines, converters.
    Signals,
    /// Pins, counters, timers of the controller.
    Resources,
    /// What protects people.
    Safety,
    /// Whether a loop can do what is asked.
    Control,
    /// Steppers and servos.
    SteppersAndServos,
}

impl Group {
    /// Heading of the group.
    pub fn title(self) -> &'static str {
        match self {
            Self::Data => "Datasheets",
            Self::Power => "Electrical: power",
            Self::Logic => "Electrical: logic",
            Self::Mechanics => "Mechanics",
            Self::Heat => "Heat",
            Self::Signals => "Signals",
            Self::Resources => "Resources of the controller",
            Self::Safety => "Safety of people",
            Self::Control => "Control",
            Self::SteppersAndServos => "Steppers and servos",
        }
    }
}

/// Defines a rule beside its page: `rule! { id: "…", row: "…", group: Power, look }` in `rules/<group>/<id>.rs`
/// takes in `<id>.md` of the same folder.
macro_rules! rule {
    ($id:literal, row $row:literal, $group:ident, $look:ident) => {
        #[doc = include_str!(concat!($id, ".md"))]
        pub(crate) const RULE: $crate::rule::Rule = $crate::rule::Rule {
            id: $id,
            row: $row,
            group: $crate::rule::Group::$group,
            page: include_str!(concat!($id, ".md")),
            look: $look,
        };
    };
}
pub(crate) use rule;
