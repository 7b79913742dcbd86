import { AMBIENT } from '../derived/ambient.js';
import { BOOST_DYNAMICS, type BoostResponse } from '../derived/boost-dynamics.js';
import { FULL_LOAD, type FullLoadPiece } from '../derived/full-load.js';
import { HELD_GEAR } from '../derived/held-gear.js';
import { type Drive, isRefusal, type Refusal, refuse } from '../derived/recipe.js';
import { samplesOf } from '../derived/samples.js';
import { PULLS, type Segment } from '../derived/segments.js';
import { SPEED } from '../derived/speed.js';
import { median } from '../math/quantile.js';
import type { Quantity, Readings } from './signal.js';
import { INTERVENTION } from './signals-engine.js';

/** Recordings made before or after the change. */
export type Side = 'before' | 'after';

/** Seconds in one gear that a pull has to last to be measured. */
const SHORTEST = 1.5;

/** Part of a {@link RowSignal} that belongs to one pull; same length as the pull's `time`. */
export interface TraceSignal {
  readonly member: string;
  readonly values: Float64Array;
  readonly u: number;
  readonly relative: boolean;
  readonly hz: number;
  /** True when the sensor stood at the end of its range in the pull. */
  readonly clipped: boolean;
}

/** How the car stood when the pull began. NaN = not recorded. */
export interface PullConditions {
  readonly ambientTemperature: number;
  readonly ambientPressure: number;
  readonly chargeTemperature: number;
  readonly coolantTemperature: number;
  readonly oilTemperature: number;
  readonly fluidTemperature: number;
  /** % by volume. */
  readonly ethanol: number;
}

/** One full-load run in one gear: the unit that everything is counted by. */
export interface PullTrace {
  readonly side: Side;
  /** Index of the input, and number of the pull in its side, from 1. */
  readonly input: number;
  readonly number: number;
  readonly from: number;
  readonly to: number;
  /** Forward gear by the gearbox's own count; NaN when only the ratio is known. */
  readonly gear: number;
  /** rpm per km/h, median; NaN without a road speed. */
  readonly ratio: number;
  /** rpm at the beginning and at the end. */
  readonly speedFrom: number;
  readonly speedTo: number;
  readonly conditions: PullConditions;
  readonly time: Float64Array;
  readonly speed: Float64Array;
  readonly signals: ReadonlyMap<string, readonly TraceSignal[] | Refusal>;
  /** How boost followed its target. */
  readonly boost: BoostResponse | Refusal;
  /** Seconds of the whole press of the pedal in which control units took torque: no such row is part of the pull. */
  readonly taken: number | Refusal;
}

/**
 * Full-load runs of one drive: of each press of the pedal and each gear the longest piece in which nothing but the driver
 * asks, if it lasts {@link SHORTEST}. Shifts, traction control and half a second after them are no part of it.
 * @returns the pulls, or why none could be told
 */
export function pullsOf(
  drive: Drive,
  side: Side,
  quantities: readonly Quantity[],
  readings: Readings,
): readonly PullTrace[] | Refusal {
  const full = drive.derive(FULL_LOAD);
  if (isRefusal(full)) return full;
  const samples = samplesOf(drive);
  const speed = samples.held('engineSpeed');
  if (speed === undefined) return refuse('no pulls, because engineSpeed is absent', { channels: ['engineSpeed'] });
  const road = drive.derive(SPEED);
  const held = drive.derive(HELD_GEAR);
  const signals = quantities.map((each) => [each.id, readings(each)] as const);
  const dynamics = drive.derive(BOOST_DYNAMICS);
  const starts = drive.derive(PULLS);
  const taken = readings(INTERVENTION);
  const found: PullTrace[] = [];
  for (const piece of longest(full.pieces)) {
    const { start, end } = piece;
    const rows = { start, end: end + 1 };
    const ratio = isRefusal(road) ? Number.NaN : ratioOf(speed, road.values, start, end);
    const numbered = !isRefusal(held) && held.numbered ? median(held.values.slice(start, end + 1)) : Number.NaN;
    const began = isRefusal(starts) ? start : (starts[piece.pull]?.start ?? start);
    found.push({
      side,
      input: drive.input,
      number: found.length + 1,
      from: piece.from,
      to: piece.to,
      gear: piece.gear >= 1 ? piece.gear : numbered,
      ratio,
      speedFrom: speed[start]!,
      speedTo: speed[end]!,
      conditions: conditionsOf(drive, began),
      time: drive.time.slice(rows.start, rows.end),
      speed: speed.slice(rows.start, rows.end),
      signals: new Map(
        signals.map(([id, all]) => [
          id,
          isRefusal(all)
            ? all
            : all.map(({ member, values, u, relative = false, hz, clipped }) => ({
                member,
                values: values.slice(rows.start, rows.end),
                u,
                relative,
                hz,
                clipped: clipped?.subarray(rows.start, rows.end).includes(1) ?? false,
              })),
        ]),
      ),
      boost: isRefusal(dynamics)
        ? dynamics
        : (dynamics.responses.find((each) => each.piece.start === start) ??
          refuse('boost target does not ask for boost in this pull', {})),
      taken: isRefusal(taken)
        ? taken
        : secondsOf(taken[0]!.values, drive.time, isRefusal(starts) ? piece : starts[piece.pull]!),
    });
  }
  return found;
}

/** Pieces of one press of the pedal are no independent witnesses: of each gear the longest. */
function longest(pieces: readonly FullLoadPiece[]): FullLoadPiece[] {
  const best = new Map<string, FullLoadPiece>();
  for (const piece of pieces) {
    if (piece.to - piece.from < SHORTEST - 1e-6) continue;
    const key = `${piece.pull}/${piece.gear}`;
    const old = best.get(key);
    if (old === undefined || piece.to - piece.from > old.to - old.from) best.set(key, piece);
  }
  return [...best.values()].sort((a, b) => a.start - b.start);
}

function secondsOf(on: Float64Array, time: Float64Array, { start, end }: Segment): number {
  let seconds = 0;
  for (let i = start; i < end; i++) if (on[i] === 1) seconds += time[i + 1]! - time[i]!;
  return seconds;
}

function ratioOf(engine: Float64Array, road: Float64Array, start: number, end: number): number {
  const ratios: number[] = [];
  for (let i = start; i <= end; i++) if (road[i]! > 5) ratios.push(engine[i]! / road[i]!);
  return median(ratios);
}

function conditionsOf(drive: Drive, row: number): PullConditions {
  const samples = samplesOf(drive);
  const at = (...ids: string[]): number => {
    for (const id of ids) {
      const values = drive.family(id)[0] === undefined ? undefined : samples.held(drive.family(id)[0]!.id);
      if (values === undefined) continue;
      // The value of the row, else the last one before it within ten seconds.
      for (let i = row; i >= 0 && drive.time[row]! - drive.time[i]! <= 10; i--)
        if (!Number.isNaN(values[i]!)) return values[i]!;
    }
    return Number.NaN;
  };
  const ambient = drive.derive(AMBIENT);
  const told = !isRefusal(ambient);
  return {
    ambientTemperature: told ? ambient.temperature : Number.NaN,
    ambientPressure: told ? ambient.pressure : Number.NaN,
    chargeTemperature: at('chargeAirTemperature', 'intakeAirTemperature'),
    coolantTemperature: at('coolantTemperature'),
    oilTemperature: at('engineOilTemperature'),
    fluidTemperature: at('transmissionOilTemperature'),
    ethanol: at('ethanolContent'),
  };
}
