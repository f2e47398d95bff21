//! Where did the boat cross a thermal break, and what is it like?

crate::table::table! {
    "breaks", "crossing of a thermal break";
    trip_id: Text, "", "Trip.", ANY;
    break_id: Text, "", "Crossing.", ANY;
    break_line_id: Maybe<Text>, "", "Break line that the crossing belongs to; missing where it belongs to none.", ANY;
    time: Time, "", "When the boat was at the centre.", ANY;
    lat: Float, "degree", "Latitude of the centre, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude of the centre, WGS 84, east positive.", LONGITUDE;
    distance_m: Float, "m", "Distance of the centre along the track from the trip's start.", NOT_NEGATIVE;
    temp_before_c: Float, "°C", "Temperature before the break.", WATER_TEMP;
    temp_after_c: Float, "°C", "Temperature after the break.", WATER_TEMP;
    step_c: Float, "°C", "Temperature after minus temperature before.", between(-50.0, 50.0);
    width_m: Float, "m", "Width along the track, from 10 % to 90 % of the step.", NOT_NEGATIVE;
    gradient_c_per_km: Float, "°C/km", "Steepest gradient along the track, absolute.", NOT_NEGATIVE;
    centre_se_m: Float, "m", "Standard error of the centre along the track.", NOT_NEGATIVE;
    step_se_c: Float, "°C", "Standard error of the step.", NOT_NEGATIVE;
    p_value: Float, "", "Chance of such a step from the sensor's noise alone, adjusted for the places searched and the breaks found (Benjamini and Hochberg).", PROBABILITY;
    kind: Text, "", "Kind of break: warm water beside cold, fresh water that passes its temperature of maximum density, or a front that the boat ran along, whose several crossings are one row with the length of the run as its width, or a weak and slow change by day that was seen once and may be the shadow of a cloud.", Domain::Words(&["thermal_break", "thermal_bar", "run_along", "maybe_shadow"]);
    warm_side_deg: Maybe<Float>, "degree", "Direction in which the warm side lies, true.", DIRECTION;
    depth_m: Maybe<Float>, "m", "Depth of the towed probe that crossed the break; missing at the surface.", DEPTH;
    gap_m: Maybe<Float>, "m", "Longest piece of track without a reading within the break; where it is most of the width, the break lies inside a gap.", NOT_NEGATIVE;
}
