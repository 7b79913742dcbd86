/** Limits that are levels of one drawn quantity. A limit that counts times, seconds or shares is no line in a plot. */
export interface Levels {
  /** Family of the channel, or of the computed quantity, that the limits are held against. */
  readonly on: string;
  /** Names of the rule's limits; -1 = a limit on a size, drawn below zero. `event` = on the side of the event's peak. */
  readonly limits: Readonly<Record<string, 1 | -1 | 'event'>>;
}

const LADDER = { watch: 1, repair: 1, stop: 1 } as const;

/** By rule. Held against the rules' own limits by a test: a name that no longer exists fails it. */
export const LEVELS: Readonly<Record<string, readonly Levels[]>> = {
  'transmission.over-temperature': [
    { on: 'transmissionOilTemperature', limits: LADDER },
    { on: 'clutchOilTemperature', limits: LADDER },
  ],
  'engine.oil-temperature': [{ on: 'engineOilTemperature', limits: LADDER }],
  'exhaust.temperature': [
    { on: 'exhaustGasTemperature', limits: LADDER },
    { on: 'exhaustGasTemperatureModelled', limits: LADDER },
  ],
  'engine.cooling': [{ on: 'coolantTemperature', limits: { ...LADDER, 'never-warm': 1 } }],
  'engine.coolant-loss': [{ on: 'coolantTemperature', limits: { hot: 1 } }],
  'engine.knock': [{ on: 'knockRetard', limits: { event: 1, ...LADDER } }],
  'engine.oil-pressure': [
    { on: 'engineOilPressure', limits: { 'idle-watch': 1, 'idle-repair': 1, 'idle-stop': 1, 'speed-stop': 1 } },
  ],
  'engine.oil-surge': [{ on: 'engineOilPressure', limits: { pressure: 1, present: 1 } }],
  'electrical.charging': [
    {
      on: 'systemVoltage',
      limits: { 'low-repair': 1, 'low-stop': 1, charging: 1, 'high-watch': 1, 'high-stop': 1 },
    },
  ],
  'usage.cold-load': [{ on: 'engineOilTemperature', limits: { oil: 1 } }],
  'usage.launches': [
    { on: 'acceleration', limits: { acceleration: 1 } },
    { on: 'engineSpeed', limits: { heldEngineSpeed: 1 } },
  ],
  'usage.severity': [{ on: 'acceleration', limits: { deceleration: -1 } }],
  'fuel.trim': [{ on: 'totalTrim', limits: { watch: 'event', repair: 'event', stop: 'event' } }],
  'fuel.lambda-load': [
    { on: 'lambdaOver', limits: { repair: 1, stop: 1 } },
    { on: 'lambda', limits: { 'lean-stop': 1, 'untargeted-watch': 1, 'rich-watch': 1 } },
  ],
  'fuel.rail-pressure': [
    { on: 'fuelRailPressureShare', limits: { 'below-watch': -1, 'below-repair': -1, 'above-watch': 1 } },
  ],
  'transmission.clutch-slip': [{ on: 'clutchSlip', limits: LADDER }],
  'air.boost-control': [{ on: 'boostError', limits: { 'overshoot-watch': 1, 'overshoot-repair': 1 } }],
  'driveline.front-drive': [{ on: 'couplingDuty', limits: { command: 1 } }],
  'fuel.octane-learning': [{ on: 'knockRetard', limits: { 'mean-watch': 1 } }],
};
