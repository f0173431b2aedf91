"""The practice bench: a simulated unit on which technicians practise and tests are built.

The plant (this part): what is physically true. `split_system` (design) sizes an `Equipment` for a rating point,
`Faults` (faults) say what is wrong with it, `Surroundings` (equipment) where it stands. `Plant(equipment, faults,
surroundings)` (plant) is the unit; `advance(dt, inputs)` moves it on and returns a `State` (state). `simulate(plant,
conduct, seconds, sample)` (run) does that over a script and returns a `History`: arrays of every true quantity.

Seams for what is built on it:

- conduct is any `Callable[[float, State], Inputs]`, time [s since the start] and the true state then -> inputs. It may
  react as a person does (stop at a head pressure, restore when told). `script` makes one from a list of changes.
- instruments read a `History` (whole run) or a `State` (live): ports and places are named there. They own noise, lag,
  units and everything a person sees; the plant knows none of it.
- scenarios hold equipment, faults, surroundings, conduct and instruments as data. The plant draws no random numbers:
  whoever varies equipment or weather does so with a seeded generator before the plant is made.

Everything is SI, absolute, kelvin. Only numpy, no clock, no files, no import from `analysis`.
"""
