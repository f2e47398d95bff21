//! Which crossings are one break, and how does it run?

crate::table::table! {
    "break_lines", "break joined from several crossings";
    trip_id: Text, "", "Trip.", ANY;
    break_line_id: Text, "", "Break line.", ANY;
    geometry: Shape, "", "Course of the break when it was last crossed: linestring as well-known binary, longitude and latitude, OGC:CRS84.", ANY;
    crossings: Int, "", "Crossings that it is joined from.", at_least(1.0);
    step_c: Float, "°C", "Mean absolute step of its crossings.", between(0.0, 50.0);
    length_m: Float, "m", "Length of the line.", NOT_NEGATIVE;
    warm_side_deg: Float, "degree", "Direction in which the warm side lies, across the line, true.", DIRECTION;
    drift_mps: Maybe<Float>, "m/s", "Speed at which the break moves across itself; missing where its crossings do not tell.", NOT_NEGATIVE;
    drift_toward_deg: Maybe<Float>, "degree", "Direction toward which the break moves, true.", DIRECTION;
    drift_se_mps: Maybe<Float>, "m/s", "Standard error of that speed.", NOT_NEGATIVE;
    direction_se_deg: Maybe<Float>, "degree", "Standard error of the line's direction.", NOT_NEGATIVE;
    across_se_m: Maybe<Float>, "m", "Standard error of the line's place across itself when it was last crossed.", NOT_NEGATIVE;
    time_first: Time, "", "First crossing.", ANY;
    time_last: Time, "", "Last crossing.", ANY;
}
