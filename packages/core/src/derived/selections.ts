import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { heldOf, samplesOf } from './samples.js';
import { SPEED } from './speed.js';

/** The selector moved to D or R at standstill. Times are known to the row only: the truth lies between the bounds. */
export interface Selection {
  readonly to: 'D' | 'R';
  /** s at which the selector was first read in its new place. */
  readonly at: number;
  /** Seconds from selector to engaged gear: between these; `high` is infinite when the gear never came. */
  readonly low: number;
  readonly high: number;
  /** Gear that engaged; NaN when none did. */
  readonly gear: number;
  /** degC; NaN when not recorded. */
  readonly fluid: number;
  /** False when a recorded brake was not pressed as the selector moved. */
  readonly braked: boolean;
  /** Seconds (at least) for which the gear was let go again at standstill, with the selector left alone; 0 = never. */
  readonly droppedOut: number;
  /** When it did; NaN when never. */
  readonly droppedAt: number;
}

/** A gear let go and taken up again while the car stood, its selector left alone and its brake held, away from any selection. */
export interface DropOut {
  readonly to: 'D' | 'R';
  /** Seconds, at least; and when it began, s. */
  readonly droppedOut: number;
  readonly droppedAt: number;
  /** degC; NaN when not recorded. */
  readonly fluid: number;
}

export interface Selections {
  readonly events: readonly Selection[];
  /** Drop-outs at halts that the car drove up to; known only where the brake is recorded. */
  readonly drops: readonly DropOut[];
  /** The gear channel names a gear while the selector stands in P or N: it shows the gear held ready, not the drive. */
  readonly preselected: boolean;
  /** Seconds between fresh values of selector and gear, whichever comes slower. */
  readonly spacing: number;
}

/** Codes of the selector: P 0, R 1, N 2, D 3, S 4, M 5, L 6 (channel catalogue). */
const REVERSE = 1;
const DRIVE = 3;
/** km/h below which the car counts as standing while the selector is moved (rule catalogue). */
const STANDING = 3;
/** A gear that comes later than this after the selector (s) belongs to something else. */
const LONGEST = 8;

export const SELECTIONS = recipe<Selections>({
  id: 'selections',
  about:
    'Selector moves to D or R at standstill with the time until the gear engaged, bounded by rows and refresh; drop-outs.',
  compute(drive) {
    const selector = heldOf(drive, 'selector', 'selections');
    if (isRefusal(selector)) return selector;
    const gear = heldOf(drive, 'gear', 'selections');
    if (isRefusal(gear)) return gear;
    const speed = drive.derive(SPEED);
    if (isRefusal(speed)) return refuse(`no selections: ${speed.reason}`, speed.missing);
    const events: Selection[] = [];
    let ready = 0;
    let parked = 0;
    const { time } = drive;
    for (let i = 1; i < time.length; i++) {
      const s = selector[i]!;
      if (s === 0 || s === 2) {
        parked++;
        // The last gear may stand a moment after the selector left it.
        if (Math.abs(gear[i]!) >= 1 && selector[Math.max(0, i - 20)] === s) ready++;
      }
      const before = selector[i - 1]!;
      const to = s >= DRIVE ? 'D' : s === REVERSE ? 'R' : undefined;
      const from = before >= DRIVE ? 'D' : before === REVERSE ? 'R' : 'N';
      if (to === undefined || Number.isNaN(before) || to === from || !(speed.values[i]! < STANDING)) continue;
      const event = selectionAt(drive, selector, gear, speed.values, i, to);
      if (event !== undefined) events.push(event);
    }
    const { spacing } = samplesOf(drive);
    const late = Math.max(lateness(drive, 'selector'), lateness(drive, 'gear'));
    const drops = haltDrops(drive, selector, gear, speed.values);
    return { events, drops, preselected: parked > 20 && ready > 0.5 * parked, spacing: spacing + late };
  },
});

/** Seconds by which a value that is held over rows may show late, beyond the row itself. */
function lateness(drive: Drive, id: string): number {
  const samples = samplesOf(drive);
  return Math.max(0, 1 / samples.hz(id) - samples.spacing);
}

function engaged(gear: number, to: 'D' | 'R'): boolean {
  // Reverse is -1; numeric sources also code it as 14 or 15.
  return to === 'D' ? gear >= 1 && gear <= 12 : gear < 0 || gear === 14 || gear === 15;
}

function selectionAt(
  drive: Drive,
  selector: Float64Array,
  gear: Float64Array,
  speed: Float64Array,
  start: number,
  to: 'D' | 'R',
): Selection | undefined {
  const { time } = drive;
  const samples = samplesOf(drive);
  const at = time[start]!;
  let i = start;
  while (i < time.length && selector[i] === selector[start] && !engaged(gear[i]!, to) && time[i]! - at < LONGEST) i++;
  const left = i >= time.length || selector[i] !== selector[start];
  const waited = (time[Math.min(i, time.length) - 1] ?? at) - at;
  const came = !left && i < time.length && engaged(gear[i]!, to);
  // Passed through on the way to another place, or a recording that ends: nothing is shown.
  if (!came && waited < 1) return undefined;
  const fluid = samples.held('transmissionOilTemperature')?.[start] ?? Number.NaN;
  const brake = samples.held('brakeSwitch');
  const base = { to, at, fluid, braked: brake === undefined || brake[start] !== 0 } as const;
  if (!came) {
    return {
      ...base,
      low: waited,
      high: Number.POSITIVE_INFINITY,
      gear: Number.NaN,
      droppedOut: 0,
      droppedAt: Number.NaN,
    };
  }
  const drop = dropOut(drive, selector, gear, speed, i, to);
  return {
    ...base,
    low: i === start ? 0 : Math.max(0, time[i - 1]! - at - lateness(drive, 'gear')),
    high: time[i]! - time[start - 1]! + lateness(drive, 'selector'),
    gear: gear[i]!,
    ...drop,
  };
}

/** A gear let go while the car stands is standstill decoupling when it follows the brake; a drop-out comes by itself. */
function dropOut(
  drive: Drive,
  selector: Float64Array,
  gear: Float64Array,
  speed: Float64Array,
  start: number,
  to: 'D' | 'R',
): Pick<Selection, 'droppedOut' | 'droppedAt'> {
  const { time } = drive;
  const samples = samplesOf(drive);
  const brake = samples.held('brakeSwitch');
  const engine = samples.held('engineSpeed');
  let longest = 0;
  let droppedAt = Number.NaN;
  let from = -1;
  // Ends when the gear comes back, the selector is moved or the car rolls off without it.
  const close = (end: number): void => {
    if (from < 0) return;
    const seconds = time[end]! - time[from]!;
    const sameBrake = brake === undefined || brake[from - 1] === brake[end];
    if (sameBrake && seconds > longest) {
      longest = seconds;
      droppedAt = time[from]!;
    }
    from = -1;
  };
  let i = start;
  for (; i < time.length && selector[i] === selector[start] && speed[i]! < STANDING; i++) {
    if (engine !== undefined && engine[i]! < 300) return { droppedOut: longest, droppedAt };
    if (gear[i] === 0) {
      if (from < 0) from = i;
    } else if (engaged(gear[i]!, to)) close(i - 1);
    else from = -1;
  }
  // At the end of the recording nobody knows whether the driver had left.
  if (i < time.length) close(i - 1);
  return { droppedOut: longest, droppedAt };
}

/** Decoupling at a halt ends as the brake is let go, a moment before its switch tells: s. Common practice, no source. */
const BRAKE_TELLS = 0.5;
/** An engine that turns slower (rpm) was stopped, and its gearbox has no pressure. */
const RUNNING = 300;

/**
 * Drop-outs at halts without a move of the selector. Without a recorded brake none is told: decoupling at a halt, which
 * follows the brake, would look the same; and with the brake released automatic hold ends by the pedal.
 */
function haltDrops(drive: Drive, selector: Float64Array, gear: Float64Array, speed: Float64Array): DropOut[] {
  const { time } = drive;
  const samples = samplesOf(drive);
  const brake = samples.held('brakeSwitch');
  if (brake === undefined) return [];
  const engine = samples.held('engineSpeed');
  const fluid = samples.held('transmissionOilTemperature');
  const found: DropOut[] = [];
  let from = -1;
  let selected = false;
  for (let i = 1; i < time.length; i++) {
    const s = selector[i]!;
    const to = s >= DRIVE ? 'D' : s === REVERSE ? 'R' : undefined;
    // A move of the selector is a selection, which looks after its own drop-out until the car moves again.
    if (!(speed[i]! < STANDING)) selected = false;
    else if (s !== selector[i - 1]!) selected = true;
    const broken =
      to === undefined ||
      selected ||
      !(speed[i]! < STANDING) ||
      (engine !== undefined && engine[i]! < RUNNING) ||
      (from > 0 && brake[i] !== brake[from - 1]);
    if (broken) from = -1;
    else if (gear[i] === 0) {
      if (from < 0 && engaged(gear[i - 1]!, to) && brake[i]! > 0 && brake[i] === brake[i - 1]) from = i;
    } else if (from > 0 && engaged(gear[i]!, to)) {
      const kept = brakeKept(time, brake, i);
      // Of the same brake from before it let go until after it took up again.
      if (kept)
        found.push({
          to,
          droppedOut: time[i - 1]! - time[from]!,
          droppedAt: time[from]!,
          fluid: fluid?.[from] ?? Number.NaN,
        });
      from = -1;
    } else if (!Number.isNaN(gear[i]!)) from = -1;
  }
  return found;
}

function brakeKept(time: Float64Array, brake: Float64Array, row: number): boolean {
  let k = row;
  for (; k < time.length && time[k]! - time[row]! <= BRAKE_TELLS; k++) if (brake[k] !== brake[row]) return false;
  return k < time.length;
}
