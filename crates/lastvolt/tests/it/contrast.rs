//! Contrast of the page by computation from its own style sheet, in light, in dark and in print.
//!
//! Texts need 4.5 to 1 against what they stand on (WCAG 2.2, success criterion 1.4.3; no text here is
//! large enough for less), strokes and areas that carry meaning 3 to 1 (1.4.11).

use std::collections::{BTreeMap, BTreeSet};

use crate::browser::page;

/// A rule of the style sheet.
#[derive(Debug, Clone)]
struct Rule {
    /// What it is limited to, as `@media print`; empty where it always holds.
    media: String,
    selector: String,
    says: Vec<(String, String)>,
}

impl Rule {
    fn get(&self, key: &str) -> Option<&str> {
        let mut all = self.says.iter().rev();
        all.find(|s| s.0 == key).map(|s| s.1.as_str())
    }

    /// The colour token that a property is set to.
    fn token(&self, key: &str) -> Option<&str> {
        let value = self.get(key)?;
        let inner = value.strip_prefix("var(--")?;
        inner.strip_suffix(')')
    }
}

/// Every rule of a style sheet, those in media rules too.
fn rules(css: &str) -> Vec<Rule> {
    let mut out = Vec::new();
    let mut media = String::new();
    let mut rest = css;
    while let Some(at) = rest.find(['{', '}']) {
        let head = rest[..at].trim();
        let opens = rest[at..].starts_with('{');
        rest = &rest[at + 1..];
        if !opens {
            media.clear();
        } else if head.starts_with('@') {
            head.clone_into(&mut media);
        } else {
            let end = rest.find('}').expect("a rule ends");
            let says = rest[..end].split(';').filter_map(|s| s.split_once(':'));
            let says: Vec<(String, String)> = says
                .map(|(key, value)| (key.trim().to_owned(), value.trim().to_owned()))
                .collect();
            for selector in head.split(',') {
                out.push(Rule {
                    media: media.clone(),
                    selector: selector.trim().to_owned(),
                    says: says.clone(),
                });
            }
            rest = &rest[end + 1..];
        }
    }
    out
}

/// A colour as red, green and blue from 0 to 1.
type Colour = [f64; 3];

fn colour(hex: &str) -> Colour {
    let digits = hex.strip_prefix('#').expect("a colour");
    let wide: String = match digits.len() {
        3 => digits.chars().flat_map(|c| [c, c]).collect(),
        _ => digits.to_owned(),
    };
    assert_eq!(wide.len(), 6, "{hex}");
    let part = |at: usize| {
        let byte = u8::from_str_radix(&wide[at..at + 2], 16).expect("a hexadecimal figure");
        f64::from(byte) / 255.0
    };
    [part(0), part(2), part(4)]
}

/// Relative luminance as WCAG 2.2 defines it.
fn luminance(colour: Colour) -> f64 {
    let linear = colour.map(|c| {
        if c <= 0.04045 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    });
    0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
}

/// Contrast ratio as WCAG 2.2 defines it.
fn contrast(a: Colour, b: Colour) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// What is seen of a colour that lets some of its ground through.
fn over(top: Colour, share: f64, ground: Colour) -> Colour {
    [0, 1, 2].map(|at| top[at] * share + ground[at] * (1.0 - share))
}

/// The colours of each token in one way of showing the page.
fn theme(rules: &[Rule], media: &str) -> BTreeMap<String, Colour> {
    let mut out = BTreeMap::new();
    let roots = rules.iter().filter(|r| r.selector == ":root");
    for rule in roots.filter(|r| r.media.is_empty() || r.media.contains(media)) {
        for (key, value) in &rule.says {
            if let Some(name) = key.strip_prefix("--") {
                out.insert(name.to_owned(), colour(value));
            }
        }
    }
    out
}

/// Classes of the texts of the pictures of a page.
fn text_classes(html: &str) -> BTreeSet<String> {
    let texts = html.split("<text class=\"").skip(1);
    let classes = texts.filter_map(|t| t.split('"').next());
    let words = classes.flat_map(str::split_whitespace);
    words.map(str::to_owned).collect()
}

/// The last class of a selector of a picture, as `bar` of `svg .bar`.
fn class(selector: &str) -> Option<&str> {
    let inner = selector.strip_prefix("svg")?;
    inner.rsplit(['.', ' ']).next()
}

/// Areas on which words of the page stand: plain backgrounds of its rules.
fn grounds(rules: &[Rule]) -> BTreeSet<String> {
    let tokens = rules.iter().filter_map(|r| {
        r.token("background")
            .or_else(|| r.token("background-color"))
    });
    let mut out: BTreeSet<String> = tokens.map(str::to_owned).collect();
    // Zones of pictures are words' ground too.
    out.insert("band".to_owned());
    out
}

/// Strokes and areas that decorate: lines to hold on to, tints whose edges or words say the same.
///
/// `grid` and `leader` lead the eye, `band` has an edge line and its name in words; `said` and `inband`
/// are halos of words.
const DECORATION: [&str; 5] = ["grid", "leader", "band", "said", "inband"];

/// Every pair of one way of showing the page that is too faint.
fn faint(rules: &[Rule], texts: &BTreeSet<String>, media: &str) -> (Vec<String>, usize) {
    let theme = theme(rules, media);
    let of = |token: &str| {
        let known = theme.get(token);
        *known.unwrap_or_else(|| panic!("no colour --{token}"))
    };
    let mut out = Vec::new();
    let mut pairs = 0;
    let mut hold = |selector: &str, what: &str, top: Colour, ground: &str, least: f64| {
        let found = contrast(top, of(ground));
        pairs += 1;
        if found < least {
            out.push(format!(
                "{media}: {what} of {selector} on --{ground}: {found:.2}, less than {least}"
            ));
        }
    };
    for rule in rules
        .iter()
        .filter(|r| r.media.is_empty() || r.media.contains(media))
    {
        let selector = &rule.selector;
        let class = class(selector);
        let word = class.is_some_and(|c| c == "text" || texts.contains(c));
        if let Some(token) = rule.token("color") {
            for ground in grounds(rules) {
                hold(selector, "text", of(token), &ground, 4.5);
            }
        }
        let plain = class.is_some_and(|c| !DECORATION.contains(&c));
        if let Some(token) = rule.token("fill").filter(|_| word) {
            for ground in ["paper", "band"] {
                hold(selector, "text", of(token), ground, 4.5);
            }
        } else if let Some(token) = rule.token("fill").filter(|t| plain && *t != "paper") {
            let share = rule
                .get("fill-opacity")
                .map_or(1.0, |s| s.parse().expect("a share"));
            // What has an outline is seen by it, as far as that is seen itself.
            let outline = rule.token("stroke");
            if outline.is_none_or(|s| contrast(of(s), of("paper")) < 3.0) {
                let seen = over(of(token), share, of("paper"));
                hold(selector, "area", seen, "paper", 3.0);
            }
        }
        if let Some(token) = rule.token("stroke").filter(|t| plain && *t != "paper") {
            for ground in ["paper", "band"] {
                hold(selector, "stroke", of(token), ground, 3.0);
            }
        }
        if let Some(token) = rule.token("border-color") {
            hold(selector, "border", of(token), "paper", 3.0);
        }
    }
    (out, pairs)
}

fn style(html: &str) -> &str {
    let from = html.find("<style>").expect("a style sheet") + "<style>".len();
    let to = html.find("</style>").expect("the end of the style sheet");
    &html[from..to]
}

#[test]
fn words_and_strokes_stand_out_in_light_in_dark_and_in_print() {
    let html = page("example");
    let rules = rules(style(html));
    let texts = text_classes(html);
    assert!(10 < texts.len(), "{texts:?}");
    let mut wrong = Vec::new();
    for media in [
        "prefers-color-scheme:light",
        "prefers-color-scheme:dark",
        "print",
    ] {
        let (faint, pairs) = faint(&rules, &texts, media);
        assert!(100 < pairs, "{media}: {pairs} pairs");
        wrong.extend(faint);
    }
    wrong.sort();
    wrong.dedup();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Black on white is 21 to 1 (WCAG 2.2, note of "contrast ratio"); #767676 is the lightest grey of
/// equal parts that has 4.5 to 1 on white (derived from the definition: 4.54, and 4.48 for #777777).
#[test]
fn ref_wcag_contrast_of_black_and_grey_on_white() {
    let white = colour("#fff");
    assert!((contrast(colour("#000000"), white) - 21.0).abs() < 1e-9);
    assert!((contrast(colour("#767676"), white) - 4.54).abs() < 0.005);
    assert!((contrast(colour("#777777"), white) - 4.48).abs() < 0.005);
}

#[test]
fn faint_words_strokes_and_areas_are_found() {
    let css = ":root{--paper:#fff;--band:#eee;--ink:#000;--pale:#ccc;--dim:#999}\n\
               @media print{:root{--dim:#111}}\n\
               .quiet,p{color:var(--dim)}svg .line{stroke:var(--pale)}svg .grid{stroke:var(--pale)}\n\
               svg .area{fill:var(--pale)}svg .edged{fill:var(--pale);stroke:var(--ink)}svg .apart{fill:var(--pale);stroke:var(--paper)}svg .rimmed{fill:var(--pale);stroke:var(--pale)}\n\
               svg .thin{fill:var(--ink);fill-opacity:.2}svg .word{fill:var(--dim)}";
    let texts = BTreeSet::from(["word".to_owned()]);
    let found = |media| faint(&rules(css), &texts, media).0.join("\n");
    let light = found("light");
    for wanted in [
        "text of .quiet on --band",
        "text of p on --band",
        "stroke of svg .line on --paper",
        "area of svg .area on --paper",
        "area of svg .apart on --paper",
        "area of svg .rimmed on --paper",
        "stroke of svg .rimmed on --paper",
        "area of svg .thin on --paper",
        "text of svg .word on --paper: 2.85",
    ] {
        assert!(light.contains(wanted), "no {wanted:?} in\n{light}");
    }
    for sound in [".grid", ".edged"] {
        assert!(!light.contains(sound), "{sound} in\n{light}");
    }
    let print = found("print");
    assert!(
        !print.contains(".quiet") && print.contains(".line"),
        "{print}"
    );
}
