import type { Candidate, ProblemList } from './candidate.js';
import { settle, traceOf } from './evidence.js';
import type { Interval } from './recording.js';
import {
  cutEngineSpeed,
  frozenEngineSpeed,
  frozenFollower,
  frozenLink,
  frozenTemperature,
  frozenThroughout,
  frozenVehicleSpeed,
  saturatedStretches,
  type Trace,
} from './stillness.js';

/** Channels that follow the engine within a moment: they cannot stand still while it moves. */
const FOLLOWERS: readonly string[] = [
  'manifoldPressure',
  'airMassFlow',
  'engineLoad',
  'airMassPerStroke',
  'engineTorque',
];

/** Speeds that go with the road. */
const ROLLING: readonly string[] = ['wheelSpeed', 'outputShaftSpeed', 'gpsSpeed'];

/** Engine temperatures that rise whenever the engine runs for ten minutes. */
const WARMING: readonly string[] = ['coolantTemperature', 'engineOilTemperature', 'transmissionOilTemperature'];

/** From here (degC) a thermostat may hold the coolant; below there, another temperature shows a cold start. Common practice, no source. */
const HELD = 70;
const COLD = 50;

/** Ends of the one- and two-byte formats of SAE J1979 (service 01), in catalogue units. */
const FORMAT_ENDS: Readonly<Record<string, readonly number[]>> = {
  manifoldPressure: [255],
  barometricPressure: [255],
  boostPressure: [255],
  vehicleSpeed: [255],
  airMassFlow: [655.35],
};

/** Channels whose own maximum may be the end of their sensor. */
const SENSOR_ENDS: readonly string[] = ['manifoldPressure', 'boostPressure', 'chargePressure', 'airMassFlow'];

/** Finds frozen and clipped stretches. Frozen samples are set aside (all but the first), clipped ones are marked. */
export function markStillness(
  channels: readonly Candidate[],
  time: Float64Array,
  scratch: Int32Array,
  problems: ProblemList,
): void {
  if (time.length < 2) return;
  const byId = new Map(channels.map((c) => [c.facts.id, c]));
  const engine = maybeTrace(byId.get('engineSpeed'));
  const vehicle = maybeTrace(byId.get('vehicleSpeed'));
  const lively = channels.filter((c) => c.facts.kind === 'number' && isLively(c, time));
  const lost = frozenLink(lively.map(traceOf), engine, time);
  const found = new Map<Candidate, Interval[]>();
  for (const candidate of channels) {
    if (candidate.facts.kind !== 'number') continue;
    candidate.saturated = clipped(candidate, engine, vehicle, time);
    const own = frozenStretches(candidate, channels, engine, vehicle, time);
    const stretches = lively.includes(candidate) ? joined([...own, ...lost]) : own;
    if (stretches.length > 0) found.set(candidate, stretches);
  }
  for (const [candidate, stretches] of found) setAside(candidate, stretches, time, scratch, problems);
  for (const candidate of channels) {
    if (candidate.saturated.length === 0) continue;
    const { column, facts, saturated, runs } = candidate;
    problems.add(
      'saturated',
      column,
      facts.id,
      `flat at ${runs!.max} ${facts.unit} in ${saturated.length} stretches: a bound, not a value`,
      {
        count: saturated.length,
        from: saturated[0]!.from,
        to: saturated[saturated.length - 1]!.to,
      },
    );
  }
}

function maybeTrace(candidate: Candidate | undefined): Trace | undefined {
  return candidate === undefined ? undefined : traceOf(candidate);
}

/** A channel that changes at least once in two seconds on average. */
function isLively(candidate: Candidate, time: Float64Array): boolean {
  return candidate.runs!.count > 0.5 * (time[time.length - 1]! - time[0]!) && candidate.runs!.count >= 30;
}

function frozenStretches(
  candidate: Candidate,
  channels: readonly Candidate[],
  engine: Trace | undefined,
  vehicle: Trace | undefined,
  time: Float64Array,
): Interval[] {
  const { base } = candidate.facts;
  // A bound of the engine speed is of no use for ratios and slip: where it is cut off it is set aside as well.
  if (base === 'engineSpeed')
    return joined([...frozenEngineSpeed(traceOf(candidate), vehicle, time), ...candidate.saturated]);
  if (base === 'vehicleSpeed') {
    const kin = channels.filter(({ facts }) => ROLLING.includes(facts.base)).map(traceOf);
    return frozenVehicleSpeed(traceOf(candidate), engine, time, kin);
  }
  if (FOLLOWERS.includes(base)) {
    const trace = traceOf(candidate);
    return trace.runs.count === 1 ? frozenThroughout(trace, engine, time) : frozenFollower(trace, engine, time);
  }
  if (WARMING.includes(base) && candidate.runs!.count === 1) {
    let warmed = 0;
    for (const other of channels) {
      if (!WARMING.includes(other.facts.base) || other.runs!.count < 2) continue;
      // A thermostat holds its coolant while the fluid of a warm gearbox gets hotter: only a cold start refutes it.
      if (base === 'coolantTemperature' && candidate.runs!.max >= HELD && other.runs!.min >= COLD) continue;
      warmed = Math.max(warmed, other.runs!.max - other.runs!.min);
    }
    return frozenTemperature(traceOf(candidate), time, warmed, runningTime(engine, time));
  }
  return [];
}

/** Seconds with the engine turning; gaps of more than 5 s are not counted. */
export function runningTime(engine: Trace | undefined, time: Float64Array): number {
  if (engine === undefined) return 0;
  let seconds = 0;
  let turning = false;
  for (let i = 1; i < time.length; i++) {
    const n = engine.values[i]!;
    if (!Number.isNaN(n)) turning = n > 300;
    const step = time[i]! - time[i - 1]!;
    if (turning && step <= 5) seconds += step;
  }
  return seconds;
}

function clipped(
  candidate: Candidate,
  engine: Trace | undefined,
  vehicle: Trace | undefined,
  time: Float64Array,
): Interval[] {
  const { base } = candidate.facts;
  if (base === 'engineSpeed') return cutEngineSpeed(traceOf(candidate), vehicle, time);
  const ends = FORMAT_ENDS[base] ?? [];
  const own = SENSOR_ENDS.includes(base);
  if (ends.length === 0 && !own) return [];
  return saturatedStretches(traceOf(candidate), ends, own ? engine : undefined, time);
}

function joined(stretches: readonly Interval[]): Interval[] {
  const sorted = [...stretches].sort((a, b) => a.from - b.from);
  const out: Interval[] = [];
  for (const stretch of sorted) {
    const last = out[out.length - 1];
    if (last !== undefined && stretch.from <= last.to)
      out[out.length - 1] = { from: last.from, to: Math.max(last.to, stretch.to) };
    else out.push(stretch);
  }
  return out;
}

function setAside(
  candidate: Candidate,
  stretches: readonly Interval[],
  time: Float64Array,
  scratch: Int32Array,
  problems: ProblemList,
): void {
  const { column, facts } = candidate;
  const values = candidate.values.slice();
  let removed = 0;
  for (const { from, to } of stretches) {
    for (let i = 0; i < values.length; i++) {
      if (!(time[i]! > from && time[i]! <= to) || Number.isNaN(values[i]!)) continue;
      values[i] = Number.NaN;
      removed++;
    }
  }
  candidate.frozen = [...stretches];
  candidate.removed.frozen = removed;
  settle(candidate, values, scratch);
  problems.add(
    'frozen',
    column,
    facts.id,
    `stood still in ${stretches.length} ${stretches.length === 1 ? 'stretch' : 'stretches'} while it should have moved; ${removed} samples set aside`,
    {
      count: removed,
      from: stretches[0]!.from,
      to: stretches[stretches.length - 1]!.to,
    },
  );
}
