import { type Segment, segmentsOf, widened } from './intervals.js';
import { type Drive, isRefusal, type Refusal, recipe, refuse } from './recipe.js';
import { heldOf, samplesOf } from './samples.js';
import { SPEED } from './speed.js';

/** Seconds before and after the change that still belong to a shift. */
const WIDEN = 0.5;

/** Gear as the control unit reports it, row by row: 0 neutral, negative reverse; NaN = no sample. */
export const GEAR = recipe<Float64Array>({
  id: 'gear',
  about: 'Gear engaged as recorded, empty cells held over for two own intervals.',
  compute(drive) {
    const channel = drive.channel('gear');
    const values = heldOf(drive, 'gear', 'gear');
    if (!isRefusal(values) && (channel === undefined || channel.quality.samples < 2)) {
      return refuse('no gear, because the column gear holds no sample', { channels: ['gear'] });
    }
    return values;
  },
});

export const SHIFTS = recipe<readonly Segment[]>({
  id: 'shifts',
  about:
    'Gear shifts: changes of the gear channel widened by 0.5 s, else steps of engine speed over road speed beyond 8 % and beyond what quantum and timing explain.',
  compute(drive) {
    const gear = drive.derive(GEAR);
    if (!isRefusal(gear) && !drive.channel('gear')!.quality.constant) return fromGear(drive, gear);
    return fromRatio(drive);
  },
});

/** Changes between two gears, neutral and reverse included: whatever changes, the drive line is not settled. */
function fromGear(drive: Drive, gear: Float64Array): readonly Segment[] {
  const mask = new Uint8Array(gear.length);
  let last = Number.NaN;
  let at = -1;
  for (let i = 0; i < gear.length; i++) {
    const g = gear[i]!;
    if (Number.isNaN(g)) continue;
    // From the last row of the old gear to the first of the new one: the change lies somewhere between.
    if (at >= 0 && g !== last) mask.fill(1, at, i + 1);
    last = g;
    at = i;
  }
  return widened(segmentsOf(mask, drive.time), drive.time, WIDEN);
}

/** Slowest road speed at which a ratio is taken (km/h): below, clutches slip and quanta are coarse. */
const SLOWEST = 8;
/** Smallest step between neighbouring ratios of any gearbox is about 12 %: a step of 8 % is no noise of a gear. */
const STEP = 0.08;

/**
 * ln(engine speed / road speed) is flat in a gear and steps at a shift. At each fresh sample of the slower channel the
 * ratio is compared with the one before; what the quanta and an unknown lag of half an interval explain is allowed for.
 */
function fromRatio(drive: Drive): readonly Segment[] | Refusal {
  const speed = drive.derive(SPEED);
  if (isRefusal(speed)) return refuse(`no shifts: ${speed.reason}`, { channels: ['gear', ...speed.missing.channels] });
  const engine = heldOf(drive, 'engineSpeed', 'shifts');
  if (isRefusal(engine)) return engine;
  const samples = samplesOf(drive);
  const { time } = drive;
  const slower = speed.hz <= samples.hz('engineSpeed') ? speed.fresh : samples.fresh('engineSpeed');
  const interval = 1 / Math.min(speed.hz, samples.hz('engineSpeed'));
  // At high rates neighbouring samples see a shift only in part: compare over about a third of a second.
  const stride = Math.max(1, Math.round(0.3 / interval));
  const quantum = Math.max(speed.quantum, 0.1);
  const mask = new Uint8Array(time.length);
  for (let k = stride; k < slower.length; k++) {
    const a = slower[k - stride]!;
    const b = slower[k]!;
    const v0 = speed.values[a]!;
    const v1 = speed.values[b]!;
    const n0 = engine[a]!;
    const n1 = engine[b]!;
    if (!(v0 >= SLOWEST && v1 >= SLOWEST && n0 >= 300 && n1 >= 300)) continue;
    const dt = time[b]! - time[a]!;
    if (dt > 3 * stride * interval) continue;
    const step = Math.log(n1 / n0) - Math.log(v1 / v0);
    const noise = quantum / Math.min(v0, v1);
    // An unknown lag shows the speed's own change once too often, for half an interval.
    const lag = Math.abs(Math.log(v1 / v0)) * Math.min(1, (0.5 * interval) / dt);
    if (Math.abs(step) > STEP + noise + lag) mask.fill(1, a, b + 1);
  }
  return widened(segmentsOf(mask, time), time, WIDEN);
}
