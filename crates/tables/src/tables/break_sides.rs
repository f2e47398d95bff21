//! Was it better on the warm side of the breaks or on the cold one?

crate::table::table! {
    "break_sides", "species, over one trip or several";
    trip_id: Text, "", "Trip.", ANY;
    species: Text, "", "Species, lower case; * for all together.", ANY;
    within_m: Float, "m", "Distance to the nearest break within which effort and bites count.", NOT_NEGATIVE;
    warm_bites: Int, "", "Bites on the warm side.", NOT_NEGATIVE;
    warm_rod_hours: Float, "h", "Rod-hours there.", NOT_NEGATIVE;
    cold_bites: Int, "", "Bites on the cold side.", NOT_NEGATIVE;
    cold_rod_hours: Float, "h", "Rod-hours there.", NOT_NEGATIVE;
    ratio: Maybe<Float>, "", "Rate on the warm side over that on the cold side; missing where the cold side had no bite.", NOT_NEGATIVE;
    ratio_low: Maybe<Float>, "", "Lower end of the 90 % interval of the ratio.", NOT_NEGATIVE;
    ratio_high: Maybe<Float>, "", "Upper end of the 90 % interval of the ratio; missing where it has none.", NOT_NEGATIVE;
    p_value: Float, "", "Chance of such a difference either way where the sides are alike (exact, conditional on the total).", PROBABILITY;
}
