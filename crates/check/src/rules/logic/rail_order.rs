//! The bridges must stay off in whatever order the supplies come and go.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::part::PowerOrder;
use drive::assembly::levels::logic_inputs;
use finding::Harm;

rule!("rail-order", row "Rail order", Logic, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let declared = view.bench.declarations().power_order();
    for board in view.bench.boards().iter().filter(|board| board.inputs.len() > 1) {
        let subject = format!("drivers.{}", board.name);
        let guarded = logic_inputs(board).iter().any(|fed| fed.input.lockout().is_given());
        let needs = board.part.power_order();
        let order = match needs.stated() {
            Some(PowerOrder::Any | PowerOrder::Together) => None,
            Some(order) => Some(order),
            None if guarded || declared.is_given() => None,
            None => {
                let path = board.part.path_of("power_order");
                ruling.missing(&subject, &[&path]).blocker(Harm::Parts).done();
                continue;
            }
        };
        let kept = order.is_none() || board.entry.power_order().stated() == order || declared.is_given();
        let wanted = order.map_or("any", PowerOrder::word);
        ruling
            .fact(&subject, kept)
            .blocker(Harm::Parts)
            .says(format!("board `{}` asks for its supplies in the order `{wanted}`, and nothing here keeps it", board.name))
            .at(board.entry.path_of("supplies"))
            .because("a bridge with motor supply and without logic can switch on by itself")
            .or_do(format!("write `power_order = \"{wanted}\"` into [{subject}] where the wiring keeps it, or say under [declarations] `power_order` what does"))
            .done();
    }
}
