//! Along which lines of the surface map is the water equally warm?

crate::table::table! {
    "isotherms", "line of equal temperature on the surface map";
    trip_id: Text, "", "Trip.", ANY;
    isotherm_id: Text, "", "Isotherm.", ANY;
    geometry: Shape, "", "Course of the isotherm: linestring as well-known binary, longitude and latitude, OGC:CRS84.", ANY;
    temp_c: Float, "°C", "Its temperature.", WATER_TEMP;
    length_m: Float, "m", "Its length.", NOT_NEGATIVE;
}
