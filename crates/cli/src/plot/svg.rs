//! Small change of SVG: numbers, text, colours, thinned lines, the style sheet.

/// Writes into a `String`, which cannot fail.
macro_rules! put {
    ($out:expr, $($arg:tt)*) => {{
        use std::fmt::Write as _;
        let _ = write!($out, $($arg)*);
    }};
}
pub(super) use put;

/// Text as XML: escaped, without characters XML 1.0 forbids.
pub(super) fn esc(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\u{FFFE}' | '\u{FFFF}' => {}
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// A coordinate: one decimal, no trailing zero, no "-0"; 0 for what is no number.
pub(super) fn n(x: f64) -> String {
    if !x.is_finite() {
        return "0".to_owned();
    }
    let s = format!("{:.1}", x.clamp(-1e6, 1e6));
    match s.strip_suffix(".0") {
        Some("-0") => "0".to_owned(),
        Some(whole) => whole.to_owned(),
        None => s,
    }
}

/// Whether a number is worth writing down; what lies beyond is a mistake.
pub(super) fn sane(x: f64) -> bool {
    x.abs() < 2000.0
}

/// Width of a text in px, on the generous side: no font is at hand to measure.
pub(super) fn wide(text: &str, size: f64) -> f64 {
    let units: f64 = text
        .chars()
        .map(|c| match c {
            'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' => 0.3,
            ' ' | '\u{a0}' | '\u{202f}' | 'f' | 'r' | 't' | '(' | ')' => 0.38,
            'm' | 'w' | 'M' | 'W' | '%' => 0.9,
            c if c.is_ascii_uppercase() => 0.7,
            c if (c as u32) > 0x2E80 => 1.05,
            _ => 0.59,
        })
        .sum();
    units * size
}

/// A text; `class` and `more` are ours, only `text` is escaped.
pub(super) fn text(out: &mut String, x: f64, y: f64, class: &str, more: &str, text: &str) {
    put!(out, r#"<text x="{}" y="{}" class="{class}"{more}>{}</text>"#, n(x), n(y), esc(text));
    out.push('\n');
}

/// A straight line.
pub(super) fn line(out: &mut String, a: (f64, f64), b: (f64, f64), class: &str) {
    put!(
        out,
        r#"<line x1="{}" y1="{}" x2="{}" y2="{}" class="{class}"/>"#,
        n(a.0),
        n(a.1),
        n(b.0),
        n(b.1)
    );
    out.push('\n');
}

/// A rectangle; one without width or height is left out.
pub(super) fn rect(out: &mut String, x: f64, y: f64, w: f64, h: f64, attributes: &str) {
    if w > 0.0 && h > 0.0 {
        put!(
            out,
            r#"<rect x="{}" y="{}" width="{}" height="{}" {attributes}/>"#,
            n(x),
            n(y),
            n(w),
            n(h)
        );
        out.push('\n');
    }
}

/// Points of a path, "M x y L x y ...".
pub(super) fn path(points: &[(f64, f64)]) -> String {
    let mut d = String::new();
    for (i, p) in points.iter().enumerate() {
        put!(d, "{}{} {}", if i == 0 { "M" } else { "L" }, n(p.0), n(p.1));
    }
    d
}

/// Drops points that lie within `off` of the line through their neighbours; x ascends. No
/// kept line is further than `off` from any dropped point.
pub(super) fn thin(points: &[(f64, f64)], off: f64) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::new();
    // the fan of slopes that still passes every point since the last one kept
    let mut fan = (f64::NEG_INFINITY, f64::INFINITY);
    let mut last: Option<(f64, f64)> = None;
    for &p in points {
        let Some(&kept) = out.last() else {
            out.push(p);
            continue;
        };
        let dx = p.0 - kept.0;
        let narrowed = if dx > 1e-9 {
            let slope = (p.1 - kept.1) / dx;
            let next = (fan.0.max((p.1 - off - kept.1) / dx), fan.1.min((p.1 + off - kept.1) / dx));
            // the point itself becomes the end of the line: its slope must pass too
            (slope >= fan.0 && slope <= fan.1).then_some(next)
        } else {
            None
        };
        if let Some(next) = narrowed {
            fan = next;
        } else if let Some(before) = last.take() {
            out.push(before);
            let dx = p.0 - before.0;
            fan = if dx > 1e-9 {
                ((p.1 - off - before.1) / dx, (p.1 + off - before.1) / dx)
            } else {
                (f64::NEG_INFINITY, f64::INFINITY)
            };
            if dx <= 1e-9 {
                out.push(p);
                continue;
            }
        } else {
            out.push(p);
            continue;
        }
        last = Some(p);
    }
    out.extend(last);
    out
}

/// Stops of our own between a dark blue and a light yellow: lightness climbs evenly (L* 18 to
/// 88), hue along the blue-yellow axis that all common colour blindness keeps.
const STOPS: [[f64; 3]; 5] = [
    [11.0, 42.0, 91.0],
    [65.0, 80.0, 122.0],
    [123.0, 123.0, 120.0],
    [184.0, 167.0, 95.0],
    [244.0, 221.0, 79.0],
];
/// Ends of the colour scale, °C; the same in every plot, so that two can be compared.
pub(super) const COLD: f64 = 2.0;
/// See [`COLD`].
pub(super) const WARM: f64 = 34.0;

/// Colour of a temperature, and whether white reads better on it than black.
pub(super) fn colour(celsius: f64) -> (String, bool) {
    tint((celsius - COLD) / (WARM - COLD))
}

/// Colour of a share, 0 to 1 from dark to light, and whether white reads better on it than black.
pub(super) fn tint(share: f64) -> (String, bool) {
    let share = share.clamp(0.0, 1.0);
    let share = if share.is_finite() { share } else { 0.5 };
    let at = share * (STOPS.len() - 1) as f64;
    let i = (at as usize).min(STOPS.len() - 2);
    let f = at - i as f64;
    let c: Vec<u8> = STOPS[i]
        .iter()
        .zip(STOPS[i + 1])
        .map(|(a, b)| (a + (b - a) * f).round().clamp(0.0, 255.0) as u8)
        .collect();
    (format!("#{:02x}{:02x}{:02x}", c[0], c[1], c[2]), share < 0.45)
}

/// Custom properties: name, light, dark.
const TONES: [(&str, &str, &str); 14] = [
    ("paper", "#fbfaf7", "#141923"),
    ("ink", "#1c2230", "#ddd9d0"),
    ("soft", "#596071", "#a3a5ac"),
    ("hair", "#dddbd5", "#2d3440"),
    ("night", "#e7e7ec", "#0a0e15"),
    ("away", "#d3d2cf", "#303846"),
    ("edge", "#4a5060", "#8d919b"),
    ("act", "#1d4f91", "#8ab6f2"),
    ("window", "#c9dcef", "#233c5b"),
    ("plain", "#e4e1da", "#394150"),
    ("dough", "#17386e", "#9cc3f7"),
    ("a", "#a8480f", "#f0a268"),
    ("b", "#6a4590", "#c7a8ec"),
    ("c", "#1f6e52", "#7dccaa"),
];

/// Rules: selector, declaration with `{tone}` where a tone of [`TONES`] goes.
const RULES: [(&str, &str, &str, &str); 44] = [
    ("text", "fill", "ink", "font-size:12px"),
    (".head", "fill", "ink", "font-size:20px;font-weight:600"),
    (".lead", "fill", "soft", "font-size:14px"),
    (".soft", "fill", "soft", ""),
    (".bold", "fill", "ink", "font-weight:600"),
    (".small", "fill", "soft", "font-size:11px"),
    (".onact", "fill", "paper", "font-weight:600"),
    (".step", "fill", "ink", "font-size:11.5px;font-variant-numeric:tabular-nums"),
    (".idle", "fill", "soft", "font-size:11.5px;font-variant-numeric:tabular-nums"),
    (".tdough", "fill", "dough", "font-weight:600"),
    (".ta", "fill", "a", "font-weight:600"),
    (".tb", "fill", "b", "font-weight:600"),
    (".tc", "fill", "c", "font-weight:600"),
    (".paper", "fill", "paper", ""),
    (".night", "fill", "night", ""),
    (".window", "fill", "window", "fill-opacity:.7"),
    (".rim", "stroke", "act", "stroke-width:.8;stroke-opacity:.6"),
    (".hands", "fill", "ink", ""),
    (".plain", "fill", "plain", "fill-opacity:.9"),
    (".awayline", "stroke", "away", "stroke-width:1.2"),
    (".ovenline", "stroke", "edge", "stroke-width:1.1"),
    (".hair", "stroke", "hair", "stroke-width:1"),
    (".axis", "stroke", "edge", "stroke-width:1"),
    (".lead-line", "stroke", "edge", "stroke-width:.7;fill:none"),
    (".tick", "stroke", "ink", "stroke-width:1.1"),
    (".edge", "stroke", "edge", "stroke-width:.9"),
    (".split", "stroke", "paper", "stroke-width:1.6;fill:none"),
    (".slackdot", "fill", "act", ""),
    (".slack", "stroke", "act", "stroke-width:1.6;fill:none"),
    (".dough", "stroke", "dough", "stroke-width:2.2"),
    (".mean", "stroke", "dough", "stroke-width:1.5;stroke-dasharray:7 3"),
    (".air", "stroke", "soft", "stroke-width:1.3;stroke-dasharray:1.3 3"),
    (".a", "stroke", "a", "stroke-width:1.9;stroke-dasharray:9 3 2 3"),
    (".b", "stroke", "b", "stroke-width:1.9;stroke-dasharray:4 2.5"),
    (".c", "stroke", "c", "stroke-width:1.9;stroke-dasharray:12 3 2 3 2 3"),
    (".span", "stroke", "dough", "stroke-width:2.6;stroke-opacity:.5"),
    (".fringe", "stroke", "edge", "stroke-width:.8;stroke-dasharray:1 2;fill-opacity:.45"),
    (".fdough", "fill", "dough", "fill-opacity:.2"),
    (".fa", "fill", "a", "fill-opacity:.2"),
    (".fb", "fill", "b", "fill-opacity:.2"),
    (".fc", "fill", "c", "fill-opacity:.2"),
    (".curve", "fill", "none", "stroke-linejoin:round;stroke-linecap:butt"),
    (".mark", "stroke", "dough", "stroke-width:9;stroke-linecap:round"),
    (".halo", "stroke", "paper", "stroke-width:3px;paint-order:stroke;stroke-linejoin:round"),
];

/// The style sheet: plain colours first, for readers of SVG without custom properties, then the
/// same by custom properties with a dark set.
pub(super) fn style(root: &str) -> String {
    let mut out = String::from("<style>\n");
    let tones = |dark: bool| {
        let mut s = String::new();
        for (name, light, night) in TONES {
            put!(s, "--g-{name}:{};", if dark { night } else { light });
        }
        s
    };
    put!(out, "#{root}{{{}color-scheme:light dark}}\n", tones(false));
    put!(out, "@media (prefers-color-scheme:dark){{#{root}{{{}}}}}\n", tones(true));
    put!(out, "@media print{{#{root}{{{}}}}}\n", tones(false));
    for (selector, what, tone, more) in RULES {
        let light = TONES.iter().find(|t| t.0 == tone).map(|t| t.1);
        put!(out, "#{root} {selector}{{");
        if let Some(light) = light {
            put!(out, "{what}:{light};{what}:var(--g-{tone});");
        } else {
            put!(out, "{what}:{tone};");
        }
        put!(out, "{more}}}\n");
    }
    out.push_str("</style>\n");
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_text_are_always_valid() {
        assert_eq!([n(1.0), n(-0.04), n(f64::NAN), n(1e300)], ["1", "0", "0", "1000000"]);
        assert_eq!(esc("a<b & \"c\"\u{1}'"), "a&lt;b &amp; &quot;c&quot; &#39;");
    }

    #[test]
    fn thinning_keeps_corners_and_steps() {
        let straight: Vec<(f64, f64)> = (0..50).map(|i| (f64::from(i), f64::from(i))).collect();
        assert_eq!(thin(&straight, 0.1).len(), 2);
        let corner = [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (3.0, 5.0), (3.0, 9.0), (4.0, 9.0)];
        assert_eq!(
            thin(&corner, 0.1),
            [(0.0, 0.0), (2.0, 0.0), (3.0, 5.0), (3.0, 9.0), (4.0, 9.0)]
        );
        assert!(thin(&[], 0.1).is_empty());
    }

    #[test]
    fn thinning_stays_near_a_slow_curve() {
        let curve: Vec<(f64, f64)> =
            (0..400).map(|i| (f64::from(i), f64::from(i * i) / 1000.0)).collect();
        let kept = thin(&curve, 0.25);
        assert!(kept.len() < 60);
        for (x, y) in curve {
            let k = kept.iter().position(|p| p.0 >= x).unwrap().max(1);
            let (a, b) = (kept[k - 1], kept[k]);
            let on = a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0);
            assert!((on - y).abs() < 0.51, "{x}: {on} {y}");
        }
    }

    #[test]
    fn colours_climb_in_lightness() {
        let grey = |t: f64| {
            let c = colour(t).0;
            let v = |i: usize| f64::from(u8::from_str_radix(&c[i..i + 2], 16).unwrap());
            0.2126 * v(1) + 0.7152 * v(3) + 0.0722 * v(5)
        };
        let all: Vec<f64> = (0..40).map(|t| grey(f64::from(t))).collect();
        assert!(all.windows(2).all(|w| w[1] >= w[0]));
        assert_eq!(colour(f64::NAN).0.len(), 7);
    }
}
