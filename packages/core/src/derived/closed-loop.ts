import { FUEL_CUT } from './fuel-cut.js';
import { LOAD_FRACTION } from './load-fraction.js';
import { PEDAL_RELATIVE } from './pedal-relative.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { SPEED } from './speed.js';
import { runningOrAll, WARM } from './warm.js';

export interface ClosedLoop {
  /** 1 where the mixture is corrected by the lambda sensor. */
  readonly mask: Uint8Array;
  /** False when inferred from temperature, load, target and the moving short trim. */
  readonly certain: boolean;
  readonly source: string;
}

/**
 * A short trim that rests at 0 for longer than this (s) is taken as open loop under load and after a cold start, unless a
 * lambda target of 1 is recorded: a well-learned engine at steady idle moves its trim by less than one step for many
 * seconds.
 */
const TRIM_STILL = 30;
/** Open loop parks the short trim at 0; one that stands still further out than this (%) is steady or at its end of travel, and in charge. */
const PARKED = 0.5;

export const CLOSED_LOOP = recipe<ClosedLoop>({
  id: 'closedLoop',
  about:
    'Closed-loop mixture control: fuel system status 2 or 16 (SAE J1979 PID 03), else inferred: engine running, and warm unless a short trim that moves towards a lambda target of 1 shows it, target near 1, no fuel cut, no full load, short trim moving or at rest while the car stands or cruises.',
  compute(drive) {
    return byStatus(drive) ?? inferred(drive);
  },
});

/** PID 03 is a bit field: 1 open (cold), 2 closed, 4 open (load or overrun), 8 open (fault), 16 closed (one sensor at fault). */
function byStatus(drive: Drive): ClosedLoop | undefined {
  const channel = drive.family('fuelSystemStatus')[0];
  const values = channel === undefined ? undefined : samplesOf(drive).held(channel.id);
  if (channel === undefined || values === undefined || channel.quality.samples === 0) return undefined;
  if (isFlag(drive, values, channel.source)) {
    const flag = new Uint8Array(values.length);
    for (let i = 0; i < values.length; i++) if (values[i] === 1) flag[i] = 1;
    return { mask: flag, certain: true, source: channel.id };
  }
  const mask = new Uint8Array(values.length);
  let known = 0;
  for (let i = 0; i < values.length; i++) {
    const status = values[i]!;
    if (status === 1 || status === 2 || status === 4 || status === 8 || status === 16) known++;
    if (status === 2 || status === 16) mask[i] = 1;
  }
  // All zero is an unsupported parameter, not an engine without mixture control.
  return known > 0 ? { mask, certain: true, source: channel.id } : undefined;
}

/** What a column of a mere flag is called, where a status byte is not. */
const FLAG_WORDS = /clos|activ|control/i;

/**
 * Only 0 and 1, and 1 while warm and running: "closed loop active", not the status byte (where 1 is open loop). A column
 * that is never 0 is a flag only by its heading: a status that stays at 1 is an engine that never closes the loop.
 */
function isFlag(drive: Drive, values: Float64Array, heading: string): boolean {
  const warm = drive.derive(WARM);
  if (isRefusal(warm)) return false;
  const running = runningOrAll(drive);
  let ones = 0;
  let all = 0;
  let zero = false;
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isNaN(x)) continue;
    if (x !== 0 && x !== 1) return false;
    if (x === 0) zero = true;
    if (warm.mask[i] === 0 || running[i] === 0) continue;
    all++;
    ones += x;
  }
  return all > 0 && ones > 0.5 * all && (zero || FLAG_WORDS.test(heading));
}

function inferred(drive: Drive): ClosedLoop | ReturnType<typeof refuse> {
  const warm = drive.derive(WARM);
  if (isRefusal(warm))
    return refuse(`no closedLoop: ${warm.reason}`, { channels: ['fuelSystemStatus', ...warm.missing.channels] });
  const samples = samplesOf(drive);
  const cut = drive.derive(FUEL_CUT);
  const load = drive.derive(LOAD_FRACTION);
  const pedal = drive.derive(PEDAL_RELATIVE);
  const target = samples.held('lambdaTarget');
  const trim = drive.family('fuelTrimShort')[0];
  const moving = trim === undefined ? undefined : movingTrim(drive, trim.id, warm.mask);
  const speed = drive.derive(SPEED);
  // A warm engine that stands or cruises is in closed loop unless it is at fault: a trim at 0 is a good one there.
  const easy = (i: number): boolean =>
    (!isRefusal(load) && load.cruiseLow[i] === 1) || (!isRefusal(speed) && speed.values[i]! < speed.standing);
  const running = runningOrAll(drive);
  const rows = drive.time.length;
  const mask = new Uint8Array(rows);
  for (let i = 0; i < rows; i++) {
    if (running[i] === 0) continue;
    // Control begins once the sensor is hot, long before the engine: a trim on the move towards a target of 1 shows it.
    if (warm.mask[i] === 0 && !(target !== undefined && moving?.[i] === MOVES)) continue;
    if (!isRefusal(cut) && cut.mask[i] === 1) continue;
    if (target !== undefined && !(Math.abs(target[i]! - 1) <= 0.02)) continue;
    if (target === undefined) {
      if (moving !== undefined && (moving[i] === OPEN || (moving[i] === RESTS && !easy(i)))) continue;
      // Without a target, enrichment has to be assumed at full load.
      if (!isRefusal(pedal) && pedal.values[i]! >= 80) continue;
      if (!isRefusal(load) && load.high[i] === 1) continue;
    }
    mask[i] = 1;
  }
  return { mask, certain: false, source: trim?.id ?? warm.source };
}

const OPEN = 0;
const MOVES = 1;
const RESTS = 2;

/**
 * Row by row: `MOVES` from one fresh change of the short trim to the next when they are close together; `RESTS` while it
 * is parked for longer; `OPEN` where that began before the engine was warm, as open loop after a cold start does.
 */
function movingTrim(drive: Drive, id: string, warm: Uint8Array): Uint8Array | undefined {
  const channel = drive.channel(id);
  if (channel === undefined || channel.quality.constant) return undefined;
  const { values } = channel;
  const { time } = drive;
  const mask = new Uint8Array(values.length);
  let at = -1;
  const close = (end: number): void => {
    if (at < 0) return;
    const moves = time[end]! - time[at]! <= TRIM_STILL || Math.abs(values[at]!) > PARKED;
    mask.fill(moves ? MOVES : warm[at] === 1 ? RESTS : OPEN, at, end + 1);
  };
  for (let i = 0; i < values.length; i++) {
    const x = values[i]!;
    if (Number.isNaN(x) || x === values[at]) continue;
    close(i - 1);
    at = i;
  }
  close(values.length - 1);
  return mask;
}
