//! Axes with their channels, encoders and loads.

use super::Resolver;
use super::places::hidden_by_a_problem;
use crate::file::AxisEntry;
use crate::model::{Axis, AxisChannel, Bench, Board, Carried, Device, Drive, Feed, Place};
use crate::part::Role;
use crate::read::unknown_name;
use crate::record::Text;
use std::sync::Arc;

impl Resolver {
    pub(super) fn axes(&mut self, bench: &mut Bench) {
        let loads = bench.file.loads();
        let motions = bench.file.motions();
        let (end_stops, brakes, homing) = (bench.file.end_stops(), bench.file.brakes(), bench.file.homing());
        let mut axes = Vec::new();
        for (name, entry) in bench.file.axes() {
            let drive = match (entry.motor(), entry.stepper()) {
                (Some(motor), _) => Drive::Dc(motor),
                (None, Some(stepper)) => Drive::Stepper(stepper),
                (None, None) => Drive::Nothing,
            };
            let channels = self.channels(bench, &entry);
            let carried = |load: &crate::file::Load| load.carried_by().len().max(1);
            let load = match entry.load() {
                Some(wanted) => {
                    let found = loads.iter().find(|(n, _)| &**n == wanted);
                    if found.is_none() {
                        let names: Vec<&str> = loads.iter().map(|(n, _)| &**n).collect();
                        self.unknown(&entry, "load", wanted, "loads", &names);
                    }
                    found.cloned()
                }
                None => loads.iter().find(|(_, load)| load.carried_by().contains(&&*name)).cloned(),
            };
            let load = load.map(|(name, load)| Carried { shared_by: carried(&load), name, load });
            let motion = entry.moves().and_then(|wanted| {
                let found = motions.iter().find(|(n, _)| &**n == wanted).cloned();
                if found.is_none() {
                    let names: Vec<&str> = motions.iter().map(|(n, _)| &**n).collect();
                    self.unknown(&entry, "moves", wanted, "motions", &names);
                }
                found
            });
            let encoder_at = self.encoder_at(bench, &entry, &channels);
            let encoder_feed = self.encoder_feed(bench, &name, &entry, encoder_at.as_ref());
            let motor_place = Place::Device(Device::Motor(name.clone()));
            let encoder_place = Place::Device(Device::Encoder(name.clone()));
            let cable = |place: &Place| bench.cables.iter().find(|run| run.ends_at(place)).cloned();
            axes.push(Axis {
                drive,
                channels,
                gearbox: entry.gearbox(),
                encoder: entry.encoder(),
                encoder_feed,
                encoder_at,
                load,
                motion,
                motor_cable: cable(&motor_place),
                encoder_cable: cable(&encoder_place),
                end_stops: end_stops.iter().filter(|(_, e)| e.axis() == Some(&*name)).cloned().collect(),
                brakes: brakes.iter().filter(|(_, b)| b.axis() == Some(&*name)).cloned().collect(),
                homing: homing.iter().find(|(_, h)| h.axis() == Some(&*name)).cloned(),
                name,
                entry,
            });
        }
        bench.axes = axes;
    }

    fn channels(&mut self, bench: &Bench, entry: &AxisEntry) -> Vec<AxisChannel> {
        let mut wanted: Vec<Text> = entry.placed("driver").to_vec();
        wanted.extend(entry.phases().iter().filter_map(|phase| phase.texts.first().cloned()));
        let mut channels = Vec::new();
        for text in wanted {
            match find_channel(bench, &text) {
                Some(channel) => channels.push(channel),
                None if hidden_by_a_problem(bench, &text) => {}
                None => {
                    let mut names = Vec::new();
                    for board in &bench.boards {
                        names.extend(board.channels().iter().map(|c| format!("{}.{}", board.name, c.name())));
                    }
                    let names: Vec<&str> = names.iter().map(String::as_str).collect();
                    self.findings.push(unknown_name(
                        entry.path(),
                        &text,
                        &text.span,
                        "channels of the boards",
                        &names,
                    ));
                }
            }
        }
        channels
    }

    /// The board that an encoder is plugged into, with the channel whose encoder lines it uses.
    fn encoder_at(
        &mut self,
        bench: &Bench,
        entry: &AxisEntry,
        channels: &[AxisChannel],
    ) -> Option<(Arc<Board>, Arc<str>)> {
        let has_lines = |board: &Board, channel: &str| {
            board.signals_of(channel).iter().any(|s| s.role().is(Role::EncoderA))
        };
        if let Some(text) = entry.encoder_to() {
            let (name, rest) = text.split_once('.').unwrap_or((text, ""));
            if let Some(board) = bench.board(name) {
                if board.channel(rest).is_some() {
                    return Some((board.clone(), rest.into()));
                }
                if let Some(connector) = board.connector(rest) {
                    let channel = board.pins_of(&connector).into_iter().find_map(|(_, carries)| {
                        let signal = board.signal(&carries)?;
                        signal.role().is(Role::EncoderA).then(|| board.channel_of(&signal)).flatten()
                    });
                    return channel.map(|channel| (board.clone(), channel));
                }
            }
            if !text.starts_with("controller") && !hidden_by_a_problem(bench, text) {
                let mut names: Vec<String> = Vec::new();
                for board in &bench.boards {
                    names.extend(board.channels().iter().map(|c| format!("{}.{}", board.name, c.name())));
                }
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                self.unknown(entry, "encoder_to", text, "channels and plugs of the boards", &names);
            }
            return None;
        }
        let first = channels.first()?;
        let channel = first.channel.name();
        has_lines(&first.board, channel).then(|| (first.board.clone(), channel.into()))
    }

    fn encoder_feed(
        &mut self,
        bench: &Bench,
        name: &str,
        entry: &AxisEntry,
        at: Option<&(Arc<Board>, Arc<str>)>,
    ) -> Option<Feed> {
        if let Some(text) = entry.encoder_supply() {
            return self.feed(bench, entry.path(), text, &entry.span_of("encoder_supply"));
        }
        // A wire says more than the plug that an encoder is taken to sit on where nothing else is said.
        if let Some((_, feed)) = bench.wired_encoder_feed(name) {
            return Some(feed);
        }
        let (board, channel) = at?;
        let consumer = format!("{channel}.encoder");
        if let Some(fed) = board.input_feeding(&consumer) {
            return fed.feed.clone();
        }
        let rail = board.part.rails().into_iter().find(|rail| rail.feeds().contains(&&*consumer))?;
        Some(Feed::BoardRail { board: board.name.clone(), rail: rail.name().into() })
    }
}

/// The channel `board.A` with what stands behind it.
fn find_channel(bench: &Bench, text: &str) -> Option<AxisChannel> {
    let (board, channel) = text.strip_prefix("drivers.").unwrap_or(text).split_once('.')?;
    let board = bench.board(board)?;
    let channel = board.channel(channel.strip_prefix("channels.").unwrap_or(channel))?;
    let input = board.input_of(&channel).cloned();
    let supply = match input.as_ref().and_then(|input| input.feed.as_ref()) {
        Some(Feed::Supply(name)) => bench.supply(name).cloned(),
        _ => None,
    };
    Some(AxisChannel { board: board.clone(), channel, input, supply })
}
