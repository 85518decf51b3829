//! A part must not work in air that is too warm for it.

use crate::rule::rule;
use crate::ruling::Ruling;
use crate::view::View;
use drive::assembly::surroundings::air_around;
use finding::Harm;

rule!("part-too-warm", row "Ambient/enclosure", Heat, look);

fn look(view: &View<'_>, ruling: &mut Ruling<'_>) {
    for device in super::devices(view) {
        let air = air_around(view.bench, &device.name, device.kind, view.dc_axes());
        let name = &device.name;
        ruling
            .judge(&device.path, air.must_stay_below(device.ambient.high))
            .weakness(Harm::Parts)
            .says(format!("`{name}` works in air of up to {{value}}; it is made for {{limit}}"))
            .because("parts age fast or shut down in air that is too warm")
            .or_do("vent the box, move the part out of it, or take one for warmer air")
            .done();
    }
}
