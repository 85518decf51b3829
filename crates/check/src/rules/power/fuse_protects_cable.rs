//! A cable must carry what its fuse lets pass.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::model::{Device, Feed, Place};
use finding::Harm;
use worked::Worked;

rule!("fuse-protects-cable", row "Cable/fuse", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for run in view.bench.cables() {
        let source = [&run.from, &run.to].into_iter().find_map(|place| match place {
            Place::Device(Device::Supply(name)) => Some(name.clone()),
            _ => None,
        });
        let Some(supply) = source.and_then(|name| view.bench.supply(&name)) else { continue };
        let mut fuses = view.bench.fuses_on(&Feed::Supply(supply.name.clone()));
        fuses.extend(view.bench.fuses_on_cable(&run.name));
        let carries = if run.entry.has("parallel") {
            run.part.current_rating() * run.entry.parallel()
        } else {
            run.part.current_rating()
        };
        let mut judge = |what: String, at: Option<String>, passes: Worked| {
            let mut draft = ruling
                .judge(run.entry.path(), passes.must_stay_below(carries.clone()))
                .blocker(Harm::Parts)
                .says(format!("{what} lets {{value}} pass for ever, and cable `{}` carries {{limit}}", run.name))
                .see(run.part.path_of("current_rating"), "what a core carries")
                .because("a short at the far end heats the cable until its insulation goes, and the fuse never opens");
            if let Some(at) = at {
                draft = draft.at(at);
            }
            draft.or_do("use a thicker cable, or a smaller fuse above what the axes take").done();
        };
        if fuses.is_empty() {
            judge(format!("no fuse is there, so supply `{}`", supply.name), None, supply.limit());
        }
        for (name, fuse) in fuses {
            judge(format!("fuse `{name}`"), Some(fuse.path_of("rating")), fuse.rating());
        }
    }
}
