//! Where along the track does an isotherm rise or go down?

crate::table::table! {
    "isotherm_breaks", "step in the depth of an isotherm along the track of a probe that goes up and down";
    trip_id: Text, "", "Trip.", ANY;
    break_id: Text, "", "Step.", ANY;
    isotherm_c: Float, "°C", "Temperature of the isotherm; one front shows in every isotherm that it moves.", WATER_TEMP;
    time: Time, "", "When the boat was at the centre.", ANY;
    lat: Float, "degree", "Latitude of the centre, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude of the centre, WGS 84, east positive.", LONGITUDE;
    distance_m: Float, "m", "Distance of the centre along the track from the trip's start.", NOT_NEGATIVE;
    depth_before_m: Float, "m", "Depth of the isotherm before the step.", DEPTH;
    depth_after_m: Float, "m", "Depth of the isotherm after the step.", DEPTH;
    step_m: Float, "m", "Depth after minus depth before; positive where the isotherm goes down.", between(-12_000.0, 12_000.0);
    width_m: Float, "m", "Width along the track, from 10 % to 90 % of the step, no less than the way between the passes about it.", NOT_NEGATIVE;
    gap_m: Float, "m", "Longest way between two passes of the probe within the step; where it is most of the width, the step lies between two passes.", NOT_NEGATIVE;
    centre_se_m: Float, "m", "Standard error of the centre along the track.", NOT_NEGATIVE;
    step_se_m: Float, "m", "Standard error of the step.", NOT_NEGATIVE;
    p_value: Float, "", "Chance of such a step from internal waves and the probe's noise alone, adjusted for the places and isotherms searched and the steps found (Benjamini and Hochberg).", PROBABILITY;
}
