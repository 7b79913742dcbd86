import { basename } from 'node:path';
import {
  type ColumnMap,
  type OwnLimits,
  type Prices,
  readColumnMap,
  readLimits,
  readPrices,
  readSheet,
  readTargets,
  readVehicle,
  type Seen,
  type SideFile,
  type Targets,
  type Vehicle,
} from '@telltale/core';
import { UserError } from './exit-code.js';
import { readSideText } from './files.js';

/** @throws UserError with every fault of the profile, one a line. */
export async function loadVehicle(path: string | undefined): Promise<Vehicle | undefined> {
  if (path === undefined) return undefined;
  const text = await readSideText(path, 'vehicle profile');
  return settled(readVehicle(text, basename(path)), 'vehicle profile');
}

/** @throws UserError with every fault of the map file, one a line. */
export async function loadMap(path: string | undefined): Promise<ColumnMap | undefined> {
  if (path === undefined) return undefined;
  return settled(readColumnMap(await readSideText(path, 'map file'), basename(path)), 'map file');
}

/** @throws UserError with every fault of the walk-round sheet, one a line. */
export async function loadSheet(path: string | undefined): Promise<readonly Seen[] | undefined> {
  if (path === undefined) return undefined;
  return settled(readSheet(await readSideText(path, 'walk-round sheet'), basename(path)), 'walk-round sheet');
}

/** @throws UserError with every fault of the price list, one a line. */
export async function loadPrices(path: string | undefined): Promise<Prices | undefined> {
  if (path === undefined) return undefined;
  return settled(readPrices(await readSideText(path, 'price list'), basename(path)), 'price list');
}

/** @throws UserError with every fault of the targets file, one a line. */
export async function loadTargets(path: string | undefined): Promise<Targets | undefined> {
  if (path === undefined) return undefined;
  return settled(readTargets(await readSideText(path, 'targets file'), basename(path)), 'targets file');
}

/** @throws UserError with every fault of the limits file, one a line. */
export async function loadLimits(path: string | undefined): Promise<OwnLimits | undefined> {
  if (path === undefined) return undefined;
  return settled(readLimits(await readSideText(path, 'limits file'), basename(path)), 'limits file');
}

function settled<T>(side: SideFile<T>, what: string): T {
  if (side.ok) return side.value;
  const code = side.faults[0]?.code ?? 'bad-side-file';
  throw new UserError(code, side.faults.map((fault) => `${what} ${fault.message}`).join('\n'));
}
