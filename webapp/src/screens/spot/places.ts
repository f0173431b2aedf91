/** Where each reading belongs; the number of a reading is its tag on the drawing. */

/** Channel -> its tag, in the order of the walk round the unit. */
export const TAGS: Record<string, number> = {
  suction_pressure: 1,
  liquid_pressure: 2,
  suction_line_temperature: 3,
  liquid_line_temperature: 4,
  outdoor_air_temperature: 5,
  return_air_dry_bulb: 6,
  return_air_wet_bulb: 6,
  supply_air_dry_bulb: 7,
  discharge_line_temperature: 8,
  evaporator_outlet_temperature: 9,
  metering_inlet_temperature: 10,
  discharge_pressure: 11,
  compressor_current: 12,
};
