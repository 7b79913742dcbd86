import { type Drive, type Recipe, type Refusal, refuse } from '../derived/recipe.js';
import type { Channel, Recording } from '../recording/recording.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import { inTenths } from './in-tenths.js';

/**
 * Opens a recording for the rules. Lazy: nothing is derived before somebody asks. Each recipe object is computed once;
 * its value, its refusal or its exception is remembered, so that every rule gets the same answer. A recipe that needs
 * itself is refused with the chain that led there.
 * @param input index of the input that the recording came from
 */
export function openDrive(recording: Recording, vehicle: Vehicle, input: number): Drive {
  const answers = new Map<Recipe<unknown>, Answer>();
  const families = new Map<string, readonly Channel[]>();
  const open: Recipe<unknown>[] = [];
  let slow: Drive | undefined;

  const drive: Drive = {
    input,
    recording,
    vehicle,
    time: recording.time,
    get slow(): Drive {
      if (slow === undefined) {
        const thinned = inTenths(recording);
        slow = thinned === recording ? drive : openDrive(thinned, vehicle, input);
      }
      return slow;
    },
    channel: (id) => recording.channels.get(id),
    family(base) {
      let members = families.get(base);
      if (members === undefined) {
        members = Object.freeze(familyOf(recording, base));
        families.set(base, members);
      }
      return members;
    },
    derive<T>(recipe: Recipe<T>): T | Refusal {
      const known = answers.get(recipe);
      if (known !== undefined) {
        if (known.failed) throw known.error;
        return known.value as T | Refusal;
      }
      if (open.includes(recipe)) {
        const chain = [...open.slice(open.indexOf(recipe)), recipe].map((each) => each.id).join(' -> ');
        return refuse(`no ${recipe.id}, because it is derived from itself (${chain})`, {});
      }
      open.push(recipe);
      try {
        const value = recipe.compute(drive);
        answers.set(recipe, { failed: false, value });
        return value;
      } catch (error) {
        answers.set(recipe, { failed: true, error });
        throw error;
      } finally {
        open.pop();
      }
    },
  };
  return Object.freeze(drive);
}

type Answer = { readonly failed: false; readonly value: unknown } | { readonly failed: true; readonly error: unknown };

/** `knockRetard`, `knockRetard.cylinder1`, `knockRetard.cylinder2`, … `knockRetard.cylinder10`. */
function familyOf(recording: Recording, base: string): Channel[] {
  const prefix = `${base}.`;
  const members: Channel[] = [];
  for (const [id, channel] of recording.channels) if (id === base || id.startsWith(prefix)) members.push(channel);
  return members.sort((a, b) => natural(a.id, b.id));
}

/** Orders digits by their number and everything else by code unit: the same in every language and engine. */
function natural(a: string, b: string): number {
  const left = a.match(/\d+|\D+/g) ?? [];
  const right = b.match(/\d+|\D+/g) ?? [];
  for (let k = 0; k < Math.min(left.length, right.length); k++) {
    const x = left[k]!;
    const y = right[k]!;
    if (x === y) continue;
    const difference = Number(x) - Number(y);
    if (!Number.isNaN(difference) && difference !== 0) return difference;
    return x < y ? -1 : 1;
  }
  return left.length - right.length;
}
