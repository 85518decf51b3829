//! What only a person can vouch for, and what was accepted by name.

use crate::kind::{q, tables};
use worked::Dimension as D;

tables! {
    /// One thing that somebody vouches for: a sentence, or a table with more.
    Declaration = "declaration", shorthand "does" {
        text does #needed "what is done, in a sentence";
        quantity within (q(D::TIME, "t_decl").knob(0.0, 1e4).span(0.0, 1e5)) "time in which it acts";
        text by "who vouches for it";
        text date "when it was tried or assessed";
        texts covers (Free) "axes, servos or devices that it holds for; all where not given";
    }

    /// What only a person can vouch for. Each is asked for once; no program can check it.
    Declarations = "declarations" {
        table guarding: Declaration "what keeps people away from what moves, pinches or flies off";
        table energy: Declaration "how the moving energy was assessed";
        table stop_path: Declaration "how the stop was shown to cut motor power without software";
        table restart: Declaration "what has to happen before anything moves again when power returns";
        table retry: Declaration "what keeps a protection that retries from starting the motor unasked";
        table watchdog: Declaration "what disables the drive when the loop stops";
        table debugger_halt: Declaration "what disables the drive when a debugger halts the controller";
        table link_loss: Declaration "what happens when the link to the operator or host is lost";
        table encoder_loss: Declaration "what trips when the encoder gives no counts";
        table heat_guard: Declaration "what keeps the winding from overheating where no limit does";
        table overspeed: Declaration "what trips when the axis runs away";
        table reset_outputs: Declaration "what keeps the outputs off until the firmware has armed them";
        table enable_polarity: Declaration "how the active levels in the code were checked against the board";
        table gravity: Declaration "what holds the load when power or the loop goes";
        table touch: Declaration "guard or label on what gets too hot to touch";
        table supply: Declaration "certificate of the supply, and who did the mains side";
        table battery: Declaration "fuse, cut-off and charging of a battery pack";
        table polarity: Declaration "how reversed supply leads are prevented";
        table hot_plug: Declaration "what keeps plugs from being moved under power";
        table returns: Declaration "how the grounds are joined, at one point";
        table mating: Declaration "how pin 1, gender and row order of the plugs were checked";
        table ports: Declaration "what spare pins are kept for";
        table lithium: Declaration "what happens with returned energy when the pack is full or its protection opens";
        table power_order: Declaration "how the order of the supplies is kept";
        table noise: Declaration "how encoder lines are kept apart from motor leads";
        table mounting: Declaration "how the parts are cooled as mounted";
    }

    /// A weakness that was taken on knowingly.
    Accepted = "accepted finding" {
        text finding #needed "id of the finding";
        text r#where "what it is about: `axes.left`";
        text reason #needed "why it can be lived with";
        text by #needed "who decided";
        text date "when";
        text up_to "worst value that was accepted; the acceptance is void beyond it";
    }
}
