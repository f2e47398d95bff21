//! At which depths, temperatures, speeds and distances did the rods produce?

crate::table::table! {
    "bands", "bin of one factor, over one trip or several";
    trip_id: Text, "", "Trip.", ANY;
    factor: Text, "", "What the bins divide: a column of the table effort; break_side_m is its break_distance_m, negative on the cold side.", Domain::Words(&["depth_m", "temp_at_depth_c", "stw_mps", "lure_speed_mps", "break_distance_m", "break_side_m", "above_thermocline_m", "sun_elevation_deg"]);
    species: Text, "", "Species, lower case; * for all together.", ANY;
    low: Float, "", "Lower end of the bin, in the unit of the factor.", ANY;
    high: Float, "", "Upper end of the bin, in the unit of the factor.", ANY;
    rod_hours: Float, "h", "Rod-hours fished in the bin.", NOT_NEGATIVE;
    bites: Int, "", "Bites in the bin.", NOT_NEGATIVE;
    rate_per_rod_hour: Maybe<Float>, "1/h", "Bites a rod-hour; missing where no rate can be given.", NOT_NEGATIVE;
    rate_low: Maybe<Float>, "1/h", "Lower end of the 90 % interval of the rate.", NOT_NEGATIVE;
    rate_high: Maybe<Float>, "1/h", "Upper end of the 90 % interval of the rate.", NOT_NEGATIVE;
    in_productive_band: Truth, "", "True where the bin belongs to the run of bins that produced best.", ANY;
    band_p_value: Maybe<Float>, "", "Chance of such a band by luck alone, for the factor and species as a whole.", PROBABILITY;
    band_p_adjusted: Maybe<Float>, "", "The same, corrected for the factors that were looked at; a productive band has 0.05 or less.", PROBABILITY;
    more_rod_hours: Maybe<Float>, "h", "Rod-hours more, roughly, that would show a band with twice the rate in a third of the effort; missing where a band was found or would have been.", NOT_NEGATIVE;
}
