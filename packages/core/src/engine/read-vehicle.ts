import { RULES } from '../rules/index.js';
import { placeInSideFile, type SideFile } from '../sidefiles/side-file.js';
import { readProfile } from '../vehicle/profile.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import { checkOverrides } from './catalogue.js';

/**
 * Reads a vehicle profile and holds its limits against the rules: a limit that no rule has, or in a unit that it cannot
 * have, is a fault of the profile with its line.
 * @param name shown in the messages
 */
export function readVehicle(text: string, name: string): SideFile<Vehicle> {
  const profile = readProfile(text, name);
  if (!profile.ok) return profile;
  const faults = checkOverrides(profile.value, RULES).map(({ path, message }) => {
    const { line, column } = placeInSideFile(text, path);
    return { code: 'bad-profile', message: `${name}:${line}:${column}: ${path.join('.')}: ${message}`, line, column };
  });
  return faults.length === 0 ? profile : { ok: false, faults };
}
