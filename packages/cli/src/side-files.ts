import { basename } from 'node:path';
import {
  type ColumnMap,
  checkOverrides,
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
  const vehicle = settled(readProfile(await readSideText(path, 'vehicle profile'), basename(path)), 'vehicle profile');
  const faults = checkOverrides(vehicle, RULES);
  if (faults.length > 0)
    throw new UserError('bad-profile', faults.map((fault) => `vehicle profile ${basename(path)}: ${fault}`).join('\n'));
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
