//! Supply leads must not fit the wrong way round, or the board must survive it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::Feed;
use bench::part::ReversePolarity;
use bench::record::Choice;
use finding::Harm;

rule!("reverse-polarity", row "Reverse polarity", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    let declared = view.bench.declarations().polarity().is_given();
    let mut judge = |feed: Option<&Feed>,
                     path: &str,
                     at: String,
                     guards: Vec<Choice<ReversePolarity>>,
                     keyed: bool| {
        let Some(Feed::Supply(name)) = feed else { return };
        let supply = view.bench.supply(name).map(|unit| unit.part.reverse_polarity());
        let guarded = |guard: &Choice<ReversePolarity>| {
            matches!(guard.value, Some(ReversePolarity::Keyed | ReversePolarity::Protected))
        };
        let any = keyed || declared || guards.iter().chain(&supply).any(guarded);
        let stated = guards.iter().any(|guard| guard.stated);
        let draft = if any || stated { ruling.fact(path, any) } else { ruling.missing(path, &[at.as_str()]) };
        draft
            .blocker(Harm::Parts)
            .says(format!("nothing keeps `{path}` from being connected to `{name}` the wrong way round"))
            .at(at)
            .because("swapped leads put the whole supply backwards through the switches' diodes: the board is gone at once")
            .or_do("fit a keyed connector or a series element")
            .or_do("write under `[declarations]`: `polarity = \"…\"`, how swapped leads are prevented")
            .done();
    };
    for board in view.bench.boards() {
        for fed in &board.inputs {
            let carrying = board.pins_carrying(fed.input.name());
            let keyed = carrying.iter().any(|(connector, _)| connector.keyed().is(true));
            let mut guards: Vec<_> = carrying.iter().map(|(connector, _)| connector.polarity()).collect();
            guards.push(fed.input.reverse_polarity());
            judge(fed.feed.as_ref(), fed.input.path(), fed.input.path_of("reverse_polarity"), guards, keyed);
        }
    }
    if let Some(controller) = view.bench.controller() {
        let supply = controller.part.supply();
        let guards = vec![supply.reverse_polarity()];
        judge(controller.feed.as_ref(), "controller", supply.path_of("reverse_polarity"), guards, false);
    }
}
