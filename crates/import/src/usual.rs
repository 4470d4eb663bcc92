//! The method an imported formula begins with: the trade's plain one. It is told as assumed.
//!
//! Times and windows are common practice, no source, as in the recipes of `examples`.

use engine::crust::DoneWhen;
use engine::formula::{Formula, PrefermentKind};
use engine::method::{Cue, End, Method, Step, Verb, Window};
use engine::recipe::PieceShape;
use engine::warmth::Vessel;
use quantity::{Celsius, Grams, Minutes, Percent};

fn after(minutes: f64) -> End {
    End::After(Minutes(minutes))
}

fn between(least: f64, usual: f64, most: f64) -> End {
    End::Between { least: Minutes(least), usual: Minutes(usual), most: Minutes(most) }
}

fn until(cue: Cue, least: f64, most: f64) -> End {
    End::Cue { cue, least: Minutes(least), most: Minutes(most) }
}

fn step(verb: Verb, vessel: Option<Vessel>, end: End) -> Step {
    let of = Step::of(verb, end);
    Step { vessel, hands_on: of.hands_on.min(end.most()), ..of }
}

fn rise(percent: f64, from: f64, to: f64) -> (Cue, Option<Window>) {
    (Cue::Rise(Percent(percent)), Some(Window::Rise(Percent(from), Percent(to))))
}

/// How far the dough rises in bulk: less the more rye it has.
fn bulk_rise(formula: &Formula) -> (Cue, Option<Window>) {
    use engine::flour::Grain;
    let rye: f64 =
        formula.flours.iter().filter(|f| f.flour.grain == Grain::Rye).map(|f| f.share.0).sum();
    if rye >= 50.0 { rise(35.0, 20.0, 55.0) } else { rise(60.0, 45.0, 80.0) }
}

/// Where a piece proofs.
fn bed(shape: PieceShape) -> Vessel {
    match shape {
        PieceShape::Pan => Vessel::Pan,
        PieceShape::Baguette | PieceShape::Roll => Vessel::Couche,
        PieceShape::Batard | PieceShape::Boule => Vessel::Banneton,
    }
}

/// Minutes in the oven by the weight of a piece; the oven of a kitchen decides when it is planned.
fn bake_min(shape: PieceShape, piece: Grams) -> f64 {
    let by_weight = match piece.0 {
        g if g < 120.0 => 16.0,
        g if g < 400.0 => 22.0,
        g if g < 650.0 => 30.0,
        g if g < 1000.0 => 36.0,
        g if g < 1500.0 => 46.0,
        _ => 60.0,
    };
    if shape == PieceShape::Pan { by_weight + 4.0 } else { by_weight }
}

/// The method for a formula, a shape and a weight.
pub(crate) fn method(formula: &Formula, shape: PieceShape, piece: Grams) -> Method {
    let mut steps = Vec::new();
    for p in &formula.preferments {
        let levain = p.kind == PrefermentKind::Levain;
        let (end, warm) = if levain {
            (until(Cue::Ripe, 210.0, 960.0), 25.0)
        } else {
            (between(480.0, 720.0, 960.0), 21.0)
        };
        let vessel = if levain { Vessel::Jar } else { Vessel::Bowl };
        let mut build = step(Verb::Build, Some(vessel), end);
        build.what = Some(p.name.clone());
        build.temperature = Some(Celsius(warm));
        // one step for each stage; an imported preferment has one
        steps.push(build);
    }
    for k in &formula.soakers {
        let mut soak = step(Verb::Soak, Some(Vessel::Bowl), between(60.0, 480.0, 960.0));
        soak.what = Some(k.name.clone());
        steps.push(soak);
    }
    let tub = Some(Vessel::Tub);
    let mut mix = step(Verb::Mix, tub, after(15.0));
    mix.temperature = Some(Celsius(25.0));
    steps.push(mix);
    steps.push(step(Verb::Rest, tub, after(40.0)));
    steps.push(step(Verb::Fold, tub, after(5.0)));
    let (cue, good) = bulk_rise(formula);
    let mut bulk = step(Verb::Bulk, tub, until(cue, 45.0, 720.0));
    bulk.good = good;
    steps.push(bulk);
    let bench = Some(Vessel::Bench);
    steps.push(step(Verb::Divide, bench, after(5.0)));
    steps.push(step(Verb::Preshape, bench, after(5.0)));
    steps.push(step(Verb::BenchRest, bench, after(25.0)));
    let bed = Some(bed(shape));
    steps.push(step(Verb::Shape, bed, after(10.0)));
    let mut proof = step(Verb::Proof, bed, until(Cue::Poke, 30.0, 360.0));
    proof.good = Cue::Poke.usual_window();
    steps.push(proof);
    let pan = shape == PieceShape::Pan;
    let (hot, then) = if pan { (220.0, 200.0) } else { (245.0, 225.0) };
    let mut preheat = step(Verb::Preheat, None, after(50.0));
    preheat.temperature = Some(Celsius(hot));
    steps.push(preheat);
    steps.push(step(Verb::Score, bed, after(5.0)));
    steps.push(step(Verb::Load, None, after(2.0)));
    let whole = bake_min(shape, piece);
    let mut steam = step(Verb::Bake, None, after((whole * 0.4).round()));
    steam.temperature = Some(Celsius(hot));
    steam.steam = true;
    let mut finish = step(Verb::Bake, None, after(whole - (whole * 0.4).round()));
    finish.temperature = Some(Celsius(then));
    steps.extend([steam, step(Verb::Vent, None, after(1.0)), finish]);
    steps.push(step(Verb::Cool, None, after(90.0)));
    Method { steps }
}

/// When such a bread counts as done.
pub(crate) fn done(shape: PieceShape) -> DoneWhen {
    if shape == PieceShape::Pan { DoneWhen::TIN } else { DoneWhen::LEAN }
}
