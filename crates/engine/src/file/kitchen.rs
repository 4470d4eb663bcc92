//! The kitchen file.

use super::{Problem, Section, oven_log, parse, put, quoted};
use crate::hearth::Oven;
use crate::hours::{BUSY_MOST, BakerHours, WeekSpan};
use crate::kitchen::{
    CultureKept, Fridge, HearthKept, Kitchen, Material, Mixer, OvenKept, OvenKind, PotKept,
    PotMaterial, Scales, SteamMeans, TinKept, TinKind, Water,
};
use quantity::{Celsius, Grams, Hours, JoulesPerKg, Minutes};
use std::fmt::Write as _;

const ROOM: std::ops::RangeInclusive<f64> = 0.0..=45.0;

/// Reads a kitchen. What it does not say has a plain default ([`Kitchen::unknown`]).
///
/// # Errors
/// All problems found, in the order of the text.
pub fn read_kitchen(text: &str) -> Result<Kitchen, Vec<Problem>> {
    parse(text, |root| {
        let plain = Kitchen::unknown();
        let name = root.needed_words("name", "\"my kitchen\"");
        let zone = root.text("zone").map_or(plain.zone, |t| t.value.to_owned());
        let altitude = root.quantity("altitude", -450.0..=5000.0).unwrap_or(plain.altitude);
        let room = read_room(root).unwrap_or(plain.room);
        let fridge = root.section("fridge").map_or(plain.fridge, |s| {
            let f = Fridge {
                air: s.needed::<Celsius>("air", -2.0..=20.0, "5 °C").unwrap_or(plain.fridge.air),
                warms_by: s.quantity("warms_by", 0.0..=15.0).unwrap_or(plain.fridge.warms_by),
                settles_in: s
                    .quantity::<Minutes>("settles_in", 10.0..=1440.0)
                    .map_or(plain.fridge.settles_in, Hours::from),
                space: s.quantity("space", 100.0..=500_000.0),
            };
            s.finish();
            f
        });
        let proofer = root.quantity("proofer", 10.0..=45.0);
        let flour = root.quantity("flour", -25.0..=45.0);
        let pot = root.section("pot").and_then(|s| {
            let mass = s.needed::<Grams>("mass", 200.0..=20_000.0, "5 kg");
            let material = s.choice("material", PotMaterial::NAMES);
            let heated = s.flag("heated", true);
            s.finish();
            Some(PotKept {
                mass: mass?,
                material: material.unwrap_or(PotMaterial::CastIron),
                heated,
            })
        });
        let tin = root.section("tin").map_or(plain.tin, |s| {
            let t = TinKept {
                kind: s.choice("kind", TinKind::NAMES).unwrap_or(plain.tin.kind),
                emissivity: s.decimal("emissivity", 0.02..=1.0),
            };
            s.finish();
            t
        });
        let paper = root.quantity("paper", 100.0..=400.0);
        let mat = root.quantity("mat", 100.0..=400.0);
        let water = root.section("water").map_or(plain.water, |s| {
            let w = Water {
                cold: s.quantity("cold", 0.0..=40.0).unwrap_or(plain.water.cold),
                hot: s.quantity("hot", 20.0..=100.0).unwrap_or(plain.water.hot),
                ice: s.quantity("ice", -40.0..=0.0),
            };
            s.finish();
            w
        });
        let mixer = root.section("mixer").map_or(plain.mixer, |s| {
            let heat = s.decimal("heat", 0.0..=60_000.0).map_or(plain.mixer.heat, JoulesPerKg);
            let friction = s.quantity("friction", -20.0..=40.0).unwrap_or(plain.mixer.friction);
            s.finish();
            Mixer { heat, friction }
        });
        let scale = root.section("scale").map_or(plain.scale, |s| {
            let step = s.quantity("step", 0.01..=50.0).unwrap_or(plain.scale.step);
            let fine = s.quantity("fine", 0.001..=50.0).unwrap_or(step.min(plain.scale.fine));
            s.finish();
            Scales { step, fine }
        });
        let oven = root.section("oven").map_or(plain.oven.clone(), |s| {
            let known = &plain.oven;
            let kind = s.choice("kind", OvenKind::NAMES).unwrap_or(known.kind);
            let usual = match kind {
                OvenKind::Home => known.steam,
                OvenKind::Deck => SteamMeans::Own,
            };
            let most = match kind {
                OvenKind::Home => 100.0..=300.0,
                OvenKind::Deck => 100.0..=400.0,
            };
            let usual_most = match kind {
                OvenKind::Home => known.most,
                OvenKind::Deck => Oven::DECK.range.1,
            };
            let o = OvenKept {
                kind,
                fan: s.flag("fan", known.fan),
                most: s.quantity("most", most).unwrap_or(usual_most),
                knob_error: s.quantity("knob_error", -80.0..=80.0).unwrap_or(known.knob_error),
                climbs: s.quantity("climbs", 1.0..=60.0).unwrap_or(known.climbs),
                steam: s.choice("steam", SteamMeans::NAMES).unwrap_or(usual),
                steam_water: s.quantity("steam_water", 0.0..=2000.0).unwrap_or(known.steam_water),
                log: oven_log::read(&s),
            };
            s.finish();
            o
        });
        let hearth = root.section("hearth").and_then(|s| {
            let width = s.needed("width", 50.0..=3000.0, "38 cm");
            let depth = s.needed("depth", 50.0..=3000.0, "34 cm");
            let material = s.choice("material", Material::NAMES).unwrap_or(Material::Cordierite);
            let thickness =
                s.quantity("thickness", 0.5..=150.0).unwrap_or(material.usual_thickness());
            let heated = s.flag("heated", material.usually_heated());
            s.finish();
            Some(HearthKept { width: width?, depth: depth?, material, thickness, heated })
        });
        let hours = root.section("hours").map_or(plain.hours, |s| {
            let h = BakerHours {
                awake: spans(&s, "awake"),
                home: spans(&s, "home"),
                busy: spans(&s, "busy"),
                busy_most: s.quantity("busy_most", 0.0..=120.0).unwrap_or(BUSY_MOST),
                never: spans(&s, "never"),
            };
            s.finish();
            h
        });
        let bannetons = root.whole("bannetons", 0..=1000).map(|n| n as u32);
        let culture = root.section("culture").map_or(plain.culture, |s| {
            let c = CultureKept {
                hydration: s.quantity("hydration", 30.0..=400.0).unwrap_or(plain.culture.hydration),
                fridge_days: s.decimal("fridge_days", 0.0..=120.0).unwrap_or(0.0),
                ash: s.quantity("ash", 0.0..=5.0).unwrap_or(plain.culture.ash),
                rye: s.flag("rye", false),
                yeast_vigour: s.decimal("yeast_vigour", 0.1..=5.0).unwrap_or(1.0),
                lab_vigour: s.decimal("lab_vigour", 0.1..=5.0).unwrap_or(1.0),
                stock: s.quantity("stock", 1.0..=100_000.0),
            };
            s.finish();
            c
        });
        Some(Kitchen {
            name: name?,
            zone,
            altitude,
            room,
            fridge,
            proofer,
            flour,
            water,
            mixer,
            scale,
            oven,
            pot,
            tin,
            paper,
            mat,
            hearth,
            bannetons,
            hours,
            culture,
        })
    })
}

/// `room = "19 °C"` or `room = ["06:00 17 °C", "14:00 20 °C"]`.
fn read_room(root: &Section<'_, '_>) -> Option<Vec<(f64, Celsius)>> {
    root.get("room")?;
    let texts = root.texts("room");
    let mut points: Vec<(f64, Celsius)> = Vec::new();
    for t in &texts {
        let (clock, rest) = match t.value.trim().split_once(char::is_whitespace) {
            Some((clock, rest)) if clock.contains(':') => (Some(clock), rest),
            _ => (None, t.value),
        };
        let hour = match clock {
            None => Some(0.0),
            Some(c) => c.split_once(':').and_then(|(h, m)| {
                let (h, m): (u8, u8) = (h.parse().ok()?, m.parse().ok()?);
                (h < 24 && m < 60).then(|| f64::from(h) + f64::from(m) / 60.0)
            }),
        };
        let Some(hour) = hour.filter(|_| clock.is_some() || texts.len() == 1) else {
            root.problem(
                t.span.clone(),
                t.field.clone(),
                format!("\"{}\" has no time of day", super::shorten(t.value)),
                Some("write \"06:00 17 °C\"".into()),
            );
            continue;
        };
        let value = super::Text { value: rest, span: t.span.clone(), field: t.field.clone() };
        if let Some(temp) = root.read::<Celsius>(&value, ROOM) {
            if points.iter().any(|p| p.0.to_bits() == hour.to_bits()) {
                root.problem(
                    t.span.clone(),
                    t.field.clone(),
                    "this hour stands twice".into(),
                    None,
                );
            }
            points.push((hour, temp));
        }
    }
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    (!points.is_empty()).then_some(points)
}

fn spans(s: &Section<'_, '_>, key: &'static str) -> Vec<WeekSpan> {
    s.texts(key)
        .into_iter()
        .filter_map(|t| match t.value.parse::<WeekSpan>() {
            Ok(span) => Some(span),
            Err(why) => {
                s.problem(t.span, t.field, why, None);
                None
            }
        })
        .collect()
}

/// Writes a kitchen; [`read_kitchen`] gives it back unchanged.
pub fn write_kitchen(k: &Kitchen) -> String {
    let mut out = String::new();
    put(&mut out, "name", &k.name);
    put(&mut out, "zone", &k.zone);
    put(&mut out, "altitude", &k.altitude.write());
    // infallible below: writing to a String
    let room: Vec<String> = k
        .room
        .iter()
        .map(|(h, t)| {
            let minutes = (h * 60.0).round() as u32;
            quoted(&format!("{:02}:{:02} {}", minutes / 60, minutes % 60, t.write()))
        })
        .collect();
    let _ = writeln!(out, "room = [{}]", room.join(", "));
    if let Some(t) = k.proofer {
        put(&mut out, "proofer", &t.write());
    }
    if let Some(t) = k.flour {
        put(&mut out, "flour", &t.write());
    }
    for (key, rated) in [("paper", k.paper), ("mat", k.mat)] {
        if let Some(t) = rated {
            put(&mut out, key, &t.write());
        }
    }
    if let Some(n) = k.bannetons {
        let _ = writeln!(out, "bannetons = {n}");
    }
    out.push_str("\n[fridge]\n");
    put(&mut out, "air", &k.fridge.air.write());
    put(&mut out, "warms_by", &k.fridge.warms_by.write());
    put(&mut out, "settles_in", &Minutes::from(k.fridge.settles_in).write());
    if let Some(s) = k.fridge.space {
        put(&mut out, "space", &s.write());
    }
    out.push_str("\n[water]\n");
    put(&mut out, "cold", &k.water.cold.write());
    put(&mut out, "hot", &k.water.hot.write());
    if let Some(t) = k.water.ice {
        put(&mut out, "ice", &t.write());
    }
    let _ = writeln!(out, "\n[mixer]\nheat = {:?}", k.mixer.heat.0);
    put(&mut out, "friction", &k.mixer.friction.write());
    out.push_str("\n[scale]\n");
    put(&mut out, "step", &k.scale.step.write());
    put(&mut out, "fine", &k.scale.fine.write());
    let o = &k.oven;
    out.push_str("\n[oven]\n");
    put(&mut out, "kind", o.kind.name());
    let _ = writeln!(out, "fan = {}", o.fan);
    put(&mut out, "most", &o.most.write());
    put(&mut out, "knob_error", &o.knob_error.write());
    put(&mut out, "climbs", &o.climbs.write());
    put(&mut out, "steam", o.steam.name());
    put(&mut out, "steam_water", &o.steam_water.write());
    oven_log::write(&mut out, &o.log);
    if let Some(h) = k.hearth {
        out.push_str("\n[hearth]\n");
        put(&mut out, "width", &h.width.write());
        put(&mut out, "depth", &h.depth.write());
        put(&mut out, "material", h.material.name());
        put(&mut out, "thickness", &h.thickness.write());
        let _ = writeln!(out, "heated = {}", h.heated);
    }
    if let Some(p) = k.pot {
        out.push_str("\n[pot]\n");
        put(&mut out, "mass", &p.mass.write());
        put(&mut out, "material", p.material.name());
        let _ = writeln!(out, "heated = {}", p.heated);
    }
    out.push_str("\n[tin]\n");
    put(&mut out, "kind", k.tin.kind.name());
    if let Some(e) = k.tin.emissivity {
        let _ = writeln!(out, "emissivity = {e:?}");
    }
    out.push_str("\n[hours]\n");
    for (key, list) in [
        ("awake", &k.hours.awake),
        ("home", &k.hours.home),
        ("busy", &k.hours.busy),
        ("never", &k.hours.never),
    ] {
        let spans: Vec<String> = list.iter().map(|s| quoted(&s.to_string())).collect();
        let _ = writeln!(out, "{key} = [{}]", spans.join(", "));
    }
    put(&mut out, "busy_most", &k.hours.busy_most.write());
    let c = &k.culture;
    out.push_str("\n[culture]\n");
    put(&mut out, "hydration", &c.hydration.write());
    let _ = writeln!(out, "fridge_days = {:?}", c.fridge_days);
    put(&mut out, "ash", &c.ash.write());
    let _ = writeln!(out, "rye = {}", c.rye);
    let _ = writeln!(out, "yeast_vigour = {:?}\nlab_vigour = {:?}", c.yeast_vigour, c.lab_vigour);
    if let Some(g) = c.stock {
        put(&mut out, "stock", &g.write());
    }
    out
}
