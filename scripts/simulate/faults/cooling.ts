import type { Phase } from '../script.js';
import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';

/** Peak of the coolant (degC) per level. */
const PEAK = { under: [106, 111.3], watch: [112.6, 116.4], repair: [117.8, 121.3], stop: [122.8, 132] } as const;
let serial = 0;

/** engine.cooling: fan dead (standing), flow lost (at speed), boiling up fast, thermostat stuck open. */
export const cooling: FaultFamily = {
  rule: 'engine.cooling',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const kind =
      level === 'watch' && random.chance(0.4)
        ? 'stuckOpen'
        : level === 'stop' && random.chance(0.3)
          ? 'boiling'
          : random.pick(['fan', 'flow']);
    if (kind === 'stuckOpen') {
      const open = 0.25 + 0.5 * dial;
      draft.disturb.push((plant) => {
        plant.thermostatOpen = open;
      });
      insertWarm(draft.script, [
        { kind: 'town', duration: 200, limit: 50 },
        { kind: 'cruise', speed: 105, duration: 240 },
      ]);
      return { rule: this.rule, level, note: `thermostat open by ${open.toFixed(2)}`, dialled: { open } };
    }
    serial += 1;
    const tag = `coolant-${serial}`;
    const [low, high] = PEAK[level];
    const peak = kind === 'boiling' ? 121 : low + (high - low) * dial;
    const rise = kind === 'boiling' ? 0.75 + 0.5 * dial : random.range(0.15, 0.35);
    const dwell = random.range(40, 70);
    // Standing is not repeated until the heat has run its course: it has to be long enough for the climb.
    const phase: Phase =
      kind === 'fan'
        ? { kind: 'idle', duration: (peak - 85) / rise + 45 + dwell, tag }
        : { kind: 'cruise', speed: random.range(90, 130), duration: 60, tag };
    draft.disturb.push((plant) => plant.overheats.push({ tag, peak, dwell, rise, where: 'coolant' }));
    insertWarm(draft.script, [phase, { kind: 'cruise', speed: 80, duration: 60 }]);
    return { rule: this.rule, level, note: `${kind} ${peak.toFixed(1)} degC`, dialled: { peak } };
  },
  truth: coolingTruth,
  decoys: {
    /** Mapped thermostat: hot at light load, cool at high load. */
    mapped(draft, random) {
      const size = random.range(10, 16);
      draft.car = { ...draft.car, engine: { ...draft.car.engine, thermostat: 103 } };
      draft.disturb.push((plant) => {
        plant.thermostatMap = size;
      });
      insertWarm(draft.script, [
        { kind: 'circuit', duration: 90, top: 150, corner: 70 },
        { kind: 'cruise', speed: 100, duration: 200 },
      ]);
    },
    winter(draft, random) {
      draft.ambient.temperature = random.range(-16, -3);
    },
    /** A long stand in heat: the coolant goes up to where the fan holds it. */
    traffic(draft, random) {
      draft.ambient.temperature = random.range(30, 40);
      insertWarm(draft.script, [
        { kind: 'idle', duration: 150 },
        { kind: 'town', duration: 120, limit: 40 },
        { kind: 'cruise', speed: 100, duration: 200 },
      ]);
    },
    fahrenheit(draft) {
      draft.units.set('coolantTemperature', 'degF');
    },
    sentinelHigh(draft, random) {
      const from = random.range(60, 300);
      draft.disturbances.push({
        kind: 'value',
        channels: ['coolantTemperature'],
        from,
        to: from + random.range(5, 60),
        value: 215,
      });
    },
    spikes(draft, random) {
      draft.disturbances.push({
        kind: 'spike',
        channels: ['coolantTemperature'],
        from: 0,
        to: 1e9,
        value: random.range(120, 150),
        share: 0.0008,
      });
    },
  },
};

/** What the undisturbed coolant shows: seconds above each limit, rise, level on the road against town, warm-up. */
function coolingTruth(sim: Simulation): TrueFinding {
  const coolant = sim.signals.get('coolantTemperature')!;
  const speed = sim.signals.get('vehicleSpeed')!;
  const { rate, samples } = sim;
  const longest = { watch: 0, repair: 0, stop: 0 };
  const held = { watch: 0, repair: 0, stop: 0 };
  const above = { watch: 112, repair: 117, stop: 122 };
  let rise = 0;
  let peak = -99;
  let late = -99;
  let steady = 0;
  let road = Number.NaN;
  const town: number[] = [];
  let reached = false;
  let top = -99;
  for (let i = 0; i < samples; i++) top = Math.max(top, coolant[i]!);
  for (let i = 0; i < samples; i++) {
    const x = coolant[i]!;
    if (x > peak) peak = x;
    for (const name of ['watch', 'repair', 'stop'] as const) {
      held[name] = x > above[name] ? held[name] + 1 / rate : 0;
      longest[name] = Math.max(longest[name], held[name]);
    }
    const before = i - 8 * rate;
    if (before >= 0 && coolant[before]! > 110) rise = Math.max(rise, (x - coolant[before]!) / 8);
    if (i > 600 * rate) late = Math.max(late, x);
    if (x > Math.min(top, 105) - 4) reached = true;
    const v = speed[i]!;
    if (reached && v > 20 && v < 75) town.push(x);
    steady = v >= 80 && v <= 120 ? steady + 1 / rate : 0;
    if (steady > 150 && (Number.isNaN(road) || x < road)) road = x;
  }
  town.sort((a, b) => a - b);
  const level = town.length > 60 * rate ? town[Math.floor(town.length / 4)]! : Number.NaN;
  const mapped = sim.plant.thermostatMap > 0;
  const fall = mapped ? Number.NaN : level - road;
  const never = late > 0 && late < 71;
  const worst =
    longest.stop >= 2 || rise > 0.5
      ? 'stop'
      : longest.repair >= 2
        ? 'repair'
        : longest.watch >= 30 || fall > 8 || never
          ? 'watch'
          : 'none';
  const margins = [nearest(peak, [112, 117, 122]), Math.abs(fall - 8), late > 0 ? Math.abs(late - 71) : 9];
  if (rise > 0) margins.push(20 * Math.abs(rise - 0.5));
  return {
    level: worst,
    measures: { peak },
    margin: Math.min(...margins.filter((x) => !Number.isNaN(x))),
  };
}
