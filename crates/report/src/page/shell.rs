//! What is the same on every page: its head, the switches, the style, the script and the foot.

use waterseam_units::UnitSystem;

use super::markup::{Markup, put};
use crate::cautions::CAUTIONS;

/// Nothing may be fetched, sent or framed; only what stands in the page runs.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; \
                      base-uri 'none'; form-action 'none'";

/// What a page says of itself, in its first lines.
pub const PAGE_MARK: &str = "name=\"generator\" content=\"waterseam\"";

/// A whole page around its body; `data` is what its script draws from.
pub(crate) fn page(
    title: &str,
    units: UnitSystem,
    body: &Markup,
    data: Option<&serde_json::Value>,
) -> String {
    let mut out = Markup::default();
    put!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\" data-units=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n",
        units
    );
    out.raw("<meta ");
    out.raw(PAGE_MARK);
    out.raw(">\n");
    put!(out, "<meta http-equiv=\"Content-Security-Policy\" content=\"{}\">\n", POLICY);
    out.raw("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    out.raw("<meta name=\"color-scheme\" content=\"light dark\">\n<meta name=\"referrer\" content=\"no-referrer\">\n");
    put!(out, "<title>{}</title>\n<style>\n", title);
    out.raw(include_str!("../../page/page.css"));
    out.raw("</style>\n</head>\n<body>\n");
    out.put(body);
    if let Some(data) = data {
        out.raw("<script type=\"application/json\" id=\"drawn-from\">");
        out.json(data);
        out.raw("</script>\n");
    }
    out.raw("<script>\n");
    out.raw(include_str!("../../page/page.js"));
    out.raw("</script>\n</body>\n</html>\n");
    out.into_string()
}

/// Units and light, for whoever has a script; without one the page is in the boat's units and follows the system.
pub(crate) fn switches(units: UnitSystem) -> Markup {
    let mut out = Markup::default();
    out.raw("<form class=\"switches\" hidden><fieldset><legend>Units</legend>");
    for (value, words) in [
        (UnitSystem::Imperial, "°F, ft, mph"),
        (UnitSystem::Metric, "°C, m, km/h"),
        (UnitSystem::Marine, "°C, m, kn"),
    ] {
        let checked = if value == units { "checked" } else { "" };
        put!(
            out,
            "<label><input type=\"radio\" name=\"units\" value=\"{}\" {}>{}</label>",
            value,
            checked,
            words
        );
    }
    out.raw("</fieldset><fieldset><legend>Light</legend>");
    for (value, words, checked) in
        [("auto", "as the device", "checked"), ("light", "sun", ""), ("dark", "night", "")]
    {
        put!(
            out,
            "<label><input type=\"radio\" name=\"light\" value=\"{}\" {}>{}</label>",
            value,
            checked,
            words
        );
    }
    out.raw("</fieldset></form>");
    out
}

/// The cautions, at the end of every page that points somewhere.
pub(crate) fn cautions() -> Markup {
    let mut out = Markup::default();
    out.raw("<section class=\"mind\" aria-labelledby=\"mind\"><h2 id=\"mind\">Mind</h2><ul class=\"words\">");
    for caution in CAUTIONS {
        put!(out, "<li>{}</li>", caution);
    }
    out.raw("</ul></section>");
    out
}
