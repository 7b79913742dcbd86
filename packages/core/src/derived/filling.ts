import { type LeastSquares, leastSquares, leverage } from '../math/least-squares.js';
import { median } from '../math/quantile.js';
import { speedDensity } from '../physics/air-mass.js';
import { AMBIENT } from './ambient.js';
import { FUEL_CUT } from './fuel-cut.js';
import { MEASURED_AIR } from './measured-air.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { steadyRows } from './steady.js';

export interface Filling {
  /**
   * Filling x displacement, L: what a working cycle really breathes of the manifold's air.
   * @param speed rpm; @param pressure kPa absolute in the manifold
   */
  readonly breathed: (speed: number, pressure: number) => number;
  /** Relative standard uncertainty of it, of what scatters: grows where nothing was learned. The air meter's own error is apart. */
  readonly uAt: (speed: number, pressure: number) => number;
  /** The same as a share of the profile's displacement (volumetric efficiency, 1); NaN without one. */
  readonly fillingAt: (speed: number, pressure: number) => number;
  /** Cells of speed and pressure that it was learned from. */
  readonly cells: number;
  /** Ends of the speed (rpm) that they cover. */
  readonly speeds: readonly [number, number];
  /** Channel whose temperature was taken as that of the charge. */
  readonly temperature: string;
  /** Where the measured air came from. */
  readonly air: string;
}

/**
 * Off boost: below this share of the barometer where the pressure before the throttle is recorded, below the other where it
 * is not; and above what an overrun or a closed throttle leaves, kPa.
 */
const OFF_BOOST = 0.99;
const OFF_BOOST_UNSEEN = 0.95;
const LOWEST = 20;
/** Manifold pressure (share of the barometer) at which no compressor works yet; and what the pipe may gain over that, kPa. */
const LOW_LOAD = 0.7;
/** A pressure that falls below this share of the barometer at low load is that of the manifold by another name. */
const PIPE_LEAST = 0.9;
const PIPE_GAIN = 1.5;
const SLOWEST = 500; // rpm
const LEAST_FLOW = 1.5; // g/s
/** Size of a cell: rpm, and share of the barometer. */
const SPEED_CELL = 250;
const PRESSURE_CELL = 0.06;
const CELLS = 6;
const ROWS_PER_CELL = 3;
/** Scatter of one cell's filling, share; and how many of its rows count at most. */
const CELL_SCATTER = 0.02;
const MOST_ROWS = 25;
/** Rows kept of a cell; spread over the whole drive, because the temperatures of its start are not those of its end. */
const KEPT_ROWS = 400;
/**
 * What is known of any engine before its data: filling falls by gas that stays in the cylinder, in proportion to exhaust
 * over manifold pressure, and flat with speed about its best. Mean and standard deviation. Common practice, no source.
 */
const PRIOR = { slope: [0, 0.15], bend: [-0.1, 0.15], residual: [-0.08, 0.05] } as const;

export const FILLING = recipe<Filling>({
  id: 'filling',
  about:
    'Filling (volumetric efficiency) of this engine: air flow over p / (R T) x displacement x n / 2 (Heywood 1988 eq. 2.27), learned from steady off-boost rows as a plane over speed, bend of speed and barometer / manifold pressure; +-3 % off boost, less sure beyond.',
  compute(drive) {
    const samples = samplesOf(drive);
    const speed = samples.held('engineSpeed');
    const pressure = samples.held('manifoldPressure');
    const temperature = chargeTemperature(drive);
    const air = drive.derive(MEASURED_AIR);
    const ambient = drive.derive(AMBIENT);
    if (isRefusal(air)) return refuse(`no filling: ${air.reason}`, air.missing);
    if (isRefusal(ambient)) return ambient;
    if (speed === undefined || pressure === undefined || temperature === undefined) {
      const absent = [
        ...(speed === undefined ? ['engineSpeed'] : []),
        ...(pressure === undefined ? ['manifoldPressure'] : []),
        ...(temperature === undefined ? ['intakeAirTemperature'] : []),
      ];
      return refuse(`no filling, because ${absent.join(' and ')} is absent`, { channels: absent });
    }
    const cut = drive.derive(FUEL_CUT);
    const steady = steadyRows(drive, speed, pressure);
    // A pipe under pressure already loses metered air through a leak, though the throttle keeps the manifold below the
    // barometer: learned as filling it would hide the leak.
    const pipe = samples.held('boostPressure');
    const pipeMost = pipe === undefined ? Number.NaN : restOf(pipe, pressure, ambient.pressure) + PIPE_GAIN;
    const highest = (Number.isNaN(pipeMost) ? OFF_BOOST_UNSEEN : OFF_BOOST) * ambient.pressure;
    const cells = new Map<number, Cell>();
    for (let i = 0; i < speed.length; i++) {
      const n = speed[i]!;
      const p = pressure[i]!;
      const flow = air.values[i]!;
      if (steady[i] === 0 || !(n >= SLOWEST) || !(flow >= LEAST_FLOW)) continue;
      if (!(p >= LOWEST && p <= highest)) continue;
      if (pipe !== undefined && pipe[i]! > pipeMost) continue;
      if (!isRefusal(cut) && cut.mask[i] === 1) continue;
      const v = flow / speedDensity(p, temperature.values[i]!, 1, 1, n);
      if (!(v > 0)) continue;
      const key = Math.round(n / SPEED_CELL) * 64 + Math.round(p / ambient.pressure / PRESSURE_CELL);
      let cell = cells.get(key);
      if (cell === undefined) {
        cell = { n: [], q: [], v: [], seen: 0, stride: 1 };
        cells.set(key, cell);
      }
      keep(cell, n, ambient.pressure / p, v);
    }
    const points = [...cells.values()].filter(({ v }) => v.length >= ROWS_PER_CELL);
    if (points.length < CELLS) {
      return refuse(`no filling: steady driving off boost fills only ${points.length} cells of speed and pressure`, {
        conditions: ['steady driving off boost at several engine speeds, with air mass and manifold pressure'],
      });
    }
    const middles = points.map(({ n, q, v }) => ({ n: median(n), q: median(q), v: median(v), rows: v.length }));
    const fit = fitted(middles);
    if (fit === undefined) return refuse('no filling: air mass and manifold pressure do not agree on one engine', {});
    const { coefficients } = fit;
    const breathed = (n: number, p: number): number => {
      const x = scaled(n);
      return (
        coefficients[0]! + coefficients[1]! * x + coefficients[2]! * x * x + (coefficients[3]! * ambient.pressure) / p
      );
    };
    const displacement = drive.vehicle.engine.displacement ?? Number.NaN;
    const scatter = Math.sqrt(Math.max(1, fit.variance));
    return {
      breathed,
      uAt: (n, p) => {
        const x = scaled(n);
        return (scatter * Math.sqrt(leverage(fit, [1, x, x * x, ambient.pressure / p]))) / breathed(n, p);
      },
      fillingAt: (n, p) => breathed(n, p) / displacement,
      cells: points.length,
      speeds: [Math.min(...middles.map(({ n }) => n)), Math.max(...middles.map(({ n }) => n))],
      temperature: temperature.source,
      air: air.source,
    };
  },
});

/** Pressure before the throttle at low load (kPa), by its own sensor, whose offset drops out so; NaN when it was not seen. */
function restOf(pipe: Float64Array, manifold: Float64Array, barometer: number): number {
  const stride = Math.max(1, Math.floor(pipe.length / 20_000));
  const low: number[] = [];
  for (let i = 0; i < pipe.length; i += stride)
    if (manifold[i]! <= LOW_LOAD * barometer && !Number.isNaN(pipe[i]!)) low.push(pipe[i]!);
  const rest = low.length === 0 ? Number.NaN : median(low);
  return rest >= PIPE_LEAST * barometer ? rest : Number.NaN;
}

interface Cell {
  n: number[];
  q: number[];
  v: number[];
  seen: number;
  stride: number;
}

/** Every `stride`-th row of a cell; whenever it is full, every other one goes and the stride doubles. */
function keep(cell: Cell, n: number, q: number, v: number): void {
  if (cell.seen++ % cell.stride !== 0) return;
  if (cell.v.length >= KEPT_ROWS) {
    const other = (_: number, k: number): boolean => k % 2 === 0;
    cell.n = cell.n.filter(other);
    cell.q = cell.q.filter(other);
    cell.v = cell.v.filter(other);
    cell.stride *= 2;
  }
  cell.n.push(n);
  cell.q.push(q);
  cell.v.push(v);
}

/** Engine speed on a scale of about -1 to 1. */
function scaled(n: number): number {
  return (n - 3000) / 3000;
}

/** Weighted plane through the cells, with three rows of what is known beforehand. */
function fitted(
  points: readonly { readonly n: number; readonly q: number; readonly v: number; readonly rows: number }[],
): LeastSquares | undefined {
  const level = median(points.map(({ v }) => v));
  const first = solve(points, level);
  if (first === undefined) return undefined;
  // Once more without cells that stand far out: an aligned row too few, a leak that opened.
  const kept = points.filter((point) => Math.abs(residual(first, point)) <= 0.12 * level);
  return kept.length >= CELLS ? (solve(kept, level) ?? first) : first;
}

function residual({ coefficients }: LeastSquares, { n, q, v }: { n: number; q: number; v: number }): number {
  const x = scaled(n);
  return v - coefficients[0]! - coefficients[1]! * x - coefficients[2]! * x * x - coefficients[3]! * q;
}

function solve(
  points: readonly { readonly n: number; readonly q: number; readonly v: number; readonly rows: number }[],
  level: number,
): LeastSquares | undefined {
  const x = points.map(({ n }) => scaled(n));
  const one: number[] = points.map(() => 1);
  const bend = x.map((each) => each * each);
  const q = points.map((point) => point.q);
  const y = points.map(({ v }) => v);
  const weights = points.map(({ rows }) => Math.min(rows, MOST_ROWS) / MOST_ROWS / (CELL_SCATTER * level) ** 2);
  [PRIOR.slope, PRIOR.bend, PRIOR.residual].forEach(([mean, deviation], k) => {
    one.push(0);
    x.push(k === 0 ? 1 : 0);
    bend.push(k === 1 ? 1 : 0);
    q.push(k === 2 ? 1 : 0);
    y.push(mean * level);
    weights.push(1 / (deviation * level) ** 2);
  });
  return leastSquares([one, x, bend, q], y, weights);
}

/** Temperature of the charge where it is recorded; else of the intake air. */
export function chargeTemperature(drive: Drive): { values: Float64Array; source: string } | undefined {
  for (const base of ['chargeAirTemperature', 'intakeAirTemperature']) {
    const channel = drive.family(base).find(({ quality }) => quality.samples > 0);
    const values = channel === undefined ? undefined : samplesOf(drive).held(channel.id);
    if (channel !== undefined && values !== undefined) return { values, source: channel.id };
  }
  return undefined;
}
