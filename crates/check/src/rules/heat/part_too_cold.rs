//! A part must not work in air that is too cold for it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use finding::Harm;

rule!("part-too-cold", row "Ambient/enclosure", Heat, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for device in super::devices(view) {
        let name = &device.name;
        ruling
            .judge(&device.path, view.bench.ambient().must_stay_above(device.ambient.low))
            .weakness(Harm::Parts)
            .says(format!("`{name}` works in air down to {{value}}; it is made for {{limit}} and more"))
            .because(
                "in the cold electrolytic capacitors lose what they hold, grease stiffens, and displays stop",
            )
            .or_do("keep it warm, or take a part for colder air")
            .done();
    }
}
