//! The code must know which level of enable means on.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::part::{Level, Role};
use finding::Harm;

rule!("enable-polarity", row "Enable polarity", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let declared = view.bench.declarations().enable_polarity();
    for board in view.bench.boards() {
        let polar = [Role::Enable, Role::Sleep, Role::Brake, Role::Fault];
        let lines =
            board.signals().into_iter().filter(|signal| polar.iter().any(|role| signal.role().is(*role)));
        let table: Vec<String> = lines
            .map(|signal| format!("{} is active {}", signal.name(), signal.active().or(Level::High)))
            .collect();
        if table.is_empty() || view.bench.axes_of(&board.name).is_empty() {
            continue;
        }
        ruling
            .fact(&format!("drivers.{}", board.name), declared.is_given())
            .blocker(Harm::People)
            .says(format!(
                "nobody says that the code has the active levels of board `{}` right: {}",
                board.name,
                table.join(", ")
            ))
            .at("declarations")
            .because("the wrong way round, the drive is armed whenever the code thinks it off")
            .or_do("try each line with the motor unplugged, then write under [declarations] `enable_polarity = \"…\"`")
            .done();
    }
}
