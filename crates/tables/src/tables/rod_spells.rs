//! Which rods had their line in the water, when, and how deep?

crate::table::table! {
    "rod_spells", "rod with its line in the water, from when to when";
    trip_id: Text, "", "Trip.", ANY;
    spell_id: Text, "", "Spell.", ANY;
    rod: Text, "", "Rod.", ANY;
    time_in: Time, "", "Line into the water.", ANY;
    time_out: Time, "", "Line out of the water.", ANY;
    method: Maybe<Text>, "", "How the line is taken down.", Domain::Words(&["downrigger", "diver", "leadcore", "weighted_wire", "clip_weight", "keel_weight", "flat_line"]);
    line_out_m: Maybe<Float>, "m", "Length of line out.", NOT_NEGATIVE;
    weight_kg: Maybe<Float>, "kg", "Weight on the line.", NOT_NEGATIVE;
    lure: Maybe<Text>, "", "Lure.", ANY;
    running_depth_m: Maybe<Float>, "m", "Depth at which the lure runs, below the surface.", DEPTH;
    running_depth_se_m: Maybe<Float>, "m", "Standard error of the running depth.", NOT_NEGATIVE;
    depth_source: Maybe<Text>, "", "Where the running depth comes from: written down, the counter's line out, the captain's table of a diver, or computed.", DEPTH_SOURCE;
    assumed: Truth, "", "True where no gear log was given and the usual spread is assumed.", ANY;
}
