import { findChannel } from '../channels/index.js';
import type { Drive } from '../derived/recipe.js';
import type { Axis, Targets } from './targets-file.js';

/** Axes of the tables. */
export interface Axes {
  /** rpm */
  readonly engineSpeed: readonly number[];
  readonly load: Axis;
  readonly loadUnit: string;
}

const SPEEDS = [750, 1000, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5500, 6000, 6500, 7000];

/** Load axes in order of preference, with breakpoints that suit most engines of this kind; the user's own come first. */
const LOADS: readonly Axis[] = [
  { channel: 'manifoldPressure', points: [30, 50, 70, 90, 110, 140, 170, 200, 230, 260] },
  { channel: 'boostPressure', points: [90, 110, 140, 170, 200, 230, 260] },
  { channel: 'engineLoadAbsolute', points: [20, 40, 60, 80, 100, 125, 150, 175, 200, 225, 250] },
  { channel: 'airMassPerStroke', points: [100, 200, 300, 400, 500, 600, 700, 800, 1000, 1200, 1400] },
  { channel: 'engineLoad', points: [10, 20, 30, 40, 50, 60, 70, 80, 90, 100] },
];

/** Axes of all tables: the user's, else engine speed and the first load that the recording holds; undefined without one. */
export function axesOf(drive: Drive, targets: Targets | undefined): Axes | undefined {
  const own = targets?.tables;
  const load = own?.load ?? LOADS.find(({ channel }) => (drive.channel(channel)?.quality.samples ?? 0) > 2);
  if (load === undefined || drive.channel(load.channel) === undefined) return undefined;
  const unit = findChannel(load.channel)?.definition.unit ?? '';
  return { engineSpeed: own?.engineSpeed ?? SPEEDS, load, loadUnit: unit };
}

/** Place of a value on an axis: the node below and the share of the next one; undefined more than half a step outside. */
export function placeOn(
  points: readonly number[],
  x: number,
): { readonly at: number; readonly share: number } | undefined {
  const last = points.length - 1;
  if (Number.isNaN(x)) return undefined;
  if (last === 0) return { at: 0, share: 0 };
  const [first, end] = [points[0]!, points[last]!];
  if (x < first) return first - x <= (points[1]! - first) / 2 ? { at: 0, share: 0 } : undefined;
  if (x >= end) return x - end <= (end - points[last - 1]!) / 2 ? { at: last - 1, share: 1 } : undefined;
  let at = 0;
  while (points[at + 1]! <= x) at++;
  return { at, share: (x - points[at]!) / (points[at + 1]! - points[at]!) };
}
