//! Where does the current change along the track?

crate::table::table! {
    "current_edges", "crossing of a current edge";
    trip_id: Text, "", "Trip.", ANY;
    edge_id: Text, "", "Crossing.", ANY;
    time: Time, "", "When the boat was at the centre.", ANY;
    lat: Float, "degree", "Latitude of the centre, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude of the centre, WGS 84, east positive.", LONGITUDE;
    distance_m: Float, "m", "Distance of the centre along the track from the trip's start.", NOT_NEGATIVE;
    east_change_mps: Float, "m/s", "Change of the motion toward east, after minus before.", ANY;
    north_change_mps: Float, "m/s", "Change of the motion toward north, after minus before.", ANY;
    change_mps: Float, "m/s", "Length of the change.", NOT_NEGATIVE;
    width_m: Float, "m", "Width of the change along the track.", NOT_NEGATIVE;
    convergence_per_s: Float, "1/s", "Convergence along the track; positive where waters meet.", ANY;
    p_value: Float, "", "Chance of such a change from noise alone, corrected for the places searched.", PROBABILITY;
    shear_per_s: Maybe<Float>, "1/s", "Change of the motion across the track, over the width; positive where it turns to starboard along the track.", ANY;
    break_id: Maybe<Text>, "", "Crossing of a thermal break at this edge: within 200 m of it, or of a break line that passes within 200 m; missing where there is none.", ANY;
}
