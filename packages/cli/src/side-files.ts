import { basename } from 'node:path';
import {
  type ColumnMap,
  checkOverrides,
  placeInSideFile,
  RULES,
  readColumnMap,
  readProfile,
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

function settled<T>(side: SideFile<T>, what: string): T {
  if (side.ok) return side.value;
  const code = side.faults[0]?.code ?? 'bad-side-file';
  throw new UserError(code, side.faults.map((fault) => `${what} ${fault.message}`).join('\n'));
}
