//! Which layers does a profile show?

crate::table::table! {
    "layers", "profile";
    trip_id: Text, "", "Trip.", ANY;
    profile_id: Text, "", "Profile, as in the table profiles.", ANY;
    time: Time, "", "Middle of the profile.", ANY;
    lat: Float, "degree", "Latitude at that time, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude at that time, WGS 84, east positive.", LONGITUDE;
    surface_temp_c: Maybe<Float>, "°C", "Temperature at the top of the profile.", WATER_TEMP;
    mixed_layer_depth_m: Maybe<Float>, "m", "Depth to which the surface layer is mixed.", DEPTH;
    mixed_layer_fit_m: Maybe<Float>, "m", "Depth at which the straight lines through the surface layer and through the thermocline meet (Holte & Talley 2009, line fit).", DEPTH;
    mixed_layer_chosen_m: Maybe<Float>, "m", "Depth of the mixed layer by the way that suits the profile best (Holte & Talley 2009, by temperature, with thresholds for lakes).", DEPTH;
    mixed_layer_method: Maybe<Text>, "", "That way: a threshold of temperature, a threshold of its gradient, the meeting of two lines, the warmest depth, or warmer water that lies in below.", Domain::Words(&["threshold", "gradient", "line_fit", "warmest", "intrusion"]);
    thermocline_depth_m: Maybe<Float>, "m", "Depth of the steepest density gradient.", DEPTH;
    thermocline_depth_se_m: Maybe<Float>, "m", "Standard error of the thermocline's depth, from the scatter of the profile's bins.", NOT_NEGATIVE;
    thermocline_top_m: Maybe<Float>, "m", "Top of the thermocline.", DEPTH;
    thermocline_bottom_m: Maybe<Float>, "m", "Bottom of the thermocline.", DEPTH;
    thermocline_gradient_c_per_m: Maybe<Float>, "°C/m", "Steepest temperature gradient in the thermocline; negative where deeper is colder.", ANY;
    deepest_sampled_m: Float, "m", "Deepest sample of the profile.", DEPTH;
    preferred_top_m: Maybe<Float>, "m", "Top of the water within the target species' temperature range.", DEPTH;
    preferred_top_se_m: Maybe<Float>, "m", "Standard error of that top, from the scatter of the profile's bins over the temperature gradient there.", NOT_NEGATIVE;
    preferred_bottom_m: Maybe<Float>, "m", "Bottom of the water within the target species' temperature range.", DEPTH;
    preferred_bottom_se_m: Maybe<Float>, "m", "Standard error of that bottom, likewise.", NOT_NEGATIVE;
}
