//! A fuse protects only what lies behind it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use bench::file::FuseAt;
use finding::Harm;

rule!("fuse-at-source", row "Cable/fuse", Power, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for (name, fuse) in view.bench.fuses() {
        ruling
            .fact(fuse.path(), fuse.at().is(FuseAt::Source))
            .blocker(Harm::Parts)
            .says(format!(
                "fuse `{name}` sits at the far end: the cable before it has nothing that protects it"
            ))
            .at(fuse.path_of("at"))
            .because("a cable that is crushed before the fuse carries all that the supply gives")
            .or_do("put the fuse at the supply's end of the cable")
            .done();
    }
}
