import { basename } from 'node:path';
import {
  type ColumnMap,
  checkOverrides,
  type Prices,
  placeInSideFile,
  RULES,
  readColumnMap,
  readPrices,
  readProfile,
  readSheet,
  type Seen,
  type SideFile,
  type Vehicle,
} from '@telltale/core';
import { UserError } from './exit-code.js';
import { readSideText } from './files.js';

/** @throws UserError with every fault of the profile, one a line. */
export async function loadVehicle(path: string | undefined): Promise<Vehicle | undefined> {
  if (path === undefined) return undefined;
  const text = await readSideText(path, 'vehicle profile');
  const vehicle = settled(readProfile(text, basename(path)), 'vehicle profile');
  const faults = checkOverrides(vehicle, RULES).map((fault) => {
    const { line, column } = placeInSideFile(text, fault.path);
    return `vehicle profile ${basename(path)}:${line}:${column}: ${fault.path.join('.')}: ${fault.message}`;
  });
  if (faults.length > 0) throw new UserError('bad-profile', faults.join('\n'));
  return vehicle;
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

function settled<T>(side: SideFile<T>, what: string): T {
  if (side.ok) return side.value;
  const code = side.faults[0]?.code ?? 'bad-side-file';
  throw new UserError(code, side.faults.map((fault) => `${what} ${fault.message}`).join('\n'));
}
