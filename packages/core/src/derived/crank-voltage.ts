import { madn } from '../math/madn.js';
import { median } from '../math/quantile.js';
import { AMBIENT } from './ambient.js';
import { uncertaintyOf } from './exceeds.js';
import { firstAtOrAfter } from './intervals.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { freshIndices, freshRate } from './refresh.js';
import { type Samples, samplesOf } from './samples.js';
import { ENGINE_STARTS, type EngineStart } from './starts.js';

/** What the battery held while the starter turned the engine. */
export interface CrankPlateau {
  /** Seconds of the first rotation, and to the last sample that counts. */
  readonly from: number;
  readonly to: number;
  /** Median voltage after the inrush, V. */
  readonly voltage: number;
  /** Standard uncertainty, V: noise, step, sensor, and the drop between battery and control unit. */
  readonly u: number;
  readonly samples: number;
  /** degC of the battery as far as known, its standard uncertainty (K), and where it is from. */
  readonly temperature: number;
  readonly temperatureU: number;
  readonly temperatureSource: string;
}

export interface CrankVoltages {
  readonly plateaus: readonly CrankPlateau[];
  /** Starts that were seen, timed or not. */
  readonly starts: number;
  /** Starts with fewer than three samples of the plateau. */
  readonly short: number;
}

/** The current of a starter that does not turn yet lasts about a tenth of a second (common practice, no source), s. */
const INRUSH = 0.1;
/** Log that shows a plateau in any start, Hz: three samples within the half second that a sound engine is cranked. Derived. */
export const CRANK_HZ = 10;
const SAMPLES = 3;
/** Above this (rpm) the engine fires and relieves the starter. Common practice, no source. */
const FIRES = 400;
/** Half-width of what a control unit reads off the battery posts, V: cables, relay, its own converter. Common practice, no source. */
const OFF = 0.3;
/** A start from cold is one at which the coolant still has the temperature of the car, degC. */
const COLD = 40;

export const CRANK_VOLTAGES = recipe<CrankVoltages>({
  id: 'crankVoltages',
  about:
    'Voltage while cranking: median from 0.1 s after the first rotation (inrush over) until the engine passes 400 rpm, with three fresh samples. Domain: 12 V systems started by their starter, no restarts after automatic stops. Uncertainty: noise, step, and 0.3 V between battery and control unit (common practice, no source).',
  compute(drive) {
    const starts = drive.derive(ENGINE_STARTS);
    if (isRefusal(starts)) return starts;
    const channel = drive.channel('systemVoltage');
    if (channel === undefined)
      return refuse('no voltage while cranking, because systemVoltage is absent', { channels: ['systemVoltage'] });
    if (starts.length === 0)
      return refuse('no start of the engine is in the recording', {
        conditions: ['a start of the engine, ignition on for 3 s before'],
      });
    const samples = samplesOf(drive);
    const plateaus: CrankPlateau[] = [];
    for (const start of starts) {
      const found = plateauOf(drive, samples, start);
      if (found !== undefined) plateaus.push(found);
    }
    const slow = ['systemVoltage', 'engineSpeed'].filter((id) => paceOf(drive, samples, id, starts) < 0.95 * CRANK_HZ);
    // A weak battery turns the engine for long: then a slower log has its three samples as well.
    if (plateaus.length === 0 && slow.length > 0)
      return refuse(`a crank plateau needs ${slow.join(' and ')} at ${CRANK_HZ} Hz`, {
        conditions: slow.map((id) => `${id} at >= ${CRANK_HZ} Hz`),
      });
    return { plateaus, starts: starts.length, short: starts.length - plateaus.length };
  },
});

/** Fresh values per second: as known of the channel, or as it changes around the starts, where a voltage does move. */
function paceOf(drive: Drive, samples: Samples, id: string, starts: readonly EngineStart[]): number {
  const { hz } = freshRate(drive.channel(id)!);
  const values = samples.held(id)!;
  const steps: number[] = [];
  for (const { from, duration } of starts) {
    let last = -1;
    for (
      let i = firstAtOrAfter(drive.time, from - 1);
      i < values.length && drive.time[i]! <= from + duration + 1;
      i++
    ) {
      if (i > 0 && values[i] === values[i - 1]) continue;
      if (last >= 0) steps.push(drive.time[i]! - drive.time[last]!);
      last = i;
    }
  }
  const near = steps.length >= 4 ? 1 / median(steps) : 0;
  return Math.max(Number.isNaN(hz) ? 0 : hz, near);
}

function plateauOf(drive: Drive, samples: Samples, start: EngineStart): CrankPlateau | undefined {
  const { time } = drive;
  const speed = samples.held('engineSpeed')!;
  const { values } = drive.channel('systemVoltage')!;
  const fresh = (id: string) => freshIndices(drive.channel(id)!.values, time, paceOf(drive, samples, id, [start]));
  // A speed that is only held does not say that the starter turns still.
  const end = fresh('engineSpeed').reduce(
    (last, i) =>
      time[i]! <= start.from + start.duration + 1e-6 && speed[i]! > 0 && speed[i]! <= FIRES ? time[i]! : last,
    start.from,
  );
  const read: number[] = [];
  let to = start.from;
  for (const i of fresh('systemVoltage')) {
    if (time[i]! < start.from + INRUSH - 1e-6 || time[i]! > end + 1e-6) continue;
    // A voltage above what any resting battery holds is not one of a starter that turns.
    if (!(speed[i]! > 0 && speed[i]! <= FIRES) || Number.isNaN(values[i]!) || !(values[i]! <= 13.2)) continue;
    read.push(values[i]!);
    to = time[i]!;
  }
  if (read.length < SAMPLES) return undefined;
  const channel = drive.channel('systemVoltage')!;
  return {
    from: start.from,
    to,
    voltage: median(read),
    u: uncertaintyOf(channel, { noise: madn(read), fresh: read.length, tolerance: OFF }),
    samples: read.length,
    ...batteryTemperature(drive, samples, start),
  };
}

type Told = Pick<CrankPlateau, 'temperature' | 'temperatureU' | 'temperatureSource'>;

/** A battery takes hours to warm: what the car had before a cold start, or the air outside, is what it has. */
function batteryTemperature(drive: Drive, samples: Samples, start: EngineStart): Told {
  const at = firstAtOrAfter(drive.time, start.from);
  const own = samples.held('batteryTemperature')?.[at] ?? Number.NaN;
  if (!Number.isNaN(own)) return { temperature: own, temperatureU: 2, temperatureSource: 'batteryTemperature' };
  const outside = samples.held('ambientTemperature')?.[at] ?? Number.NaN;
  if (!Number.isNaN(outside)) return { temperature: outside, temperatureU: 5, temperatureSource: 'ambientTemperature' };
  if (start.temperature <= COLD)
    return { temperature: start.temperature, temperatureU: 5, temperatureSource: 'engine before a cold start' };
  const air = drive.derive(AMBIENT);
  if (isRefusal(air)) return { temperature: 15, temperatureU: 10, temperatureSource: 'none: 15 °C taken' };
  return { temperature: air.temperature, temperatureU: air.temperatureU, temperatureSource: air.temperatureSource };
}
