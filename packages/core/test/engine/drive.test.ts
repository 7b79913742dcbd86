import { describe, expect, it } from 'vitest';
import { isRefusal, type Recipe, recipe, refuse } from '../../src/derived/recipe.js';
import { openDrive } from '../../src/engine/drive.js';
import { UNKNOWN_VEHICLE } from '../../src/vehicle/vehicle.js';
import { driveOf, recordingOf } from '../derived/helpers.js';

const channels = {
  'knockRetard.cylinder10': [1, 2],
  'knockRetard.cylinder2': [1, 2],
  knockRetard: [1, 2],
  'knockRetard.cylinder1': [1, 2],
  knockRetardTotal: [1, 2],
};

describe('openDrive', () => {
  it('lists a family in natural order, without its namesakes', () => {
    const drive = driveOf({ hz: 1, channels });
    expect(drive.family('knockRetard').map((c) => c.id)).toEqual([
      'knockRetard',
      'knockRetard.cylinder1',
      'knockRetard.cylinder2',
      'knockRetard.cylinder10',
    ]);
    expect(drive.family('lambda')).toEqual([]);
    expect(drive.channel('lambda')).toBeUndefined();
  });

  it('derives nothing before it is asked, and everything once', () => {
    let runs = 0;
    const counted = recipe({ id: 'counted', about: '', compute: () => ({ run: ++runs }) });
    const drive = openDrive(recordingOf({ hz: 1, channels }), UNKNOWN_VEHICLE, 3);
    expect(runs).toBe(0);
    expect(drive.derive(counted)).toBe(drive.derive(counted));
    expect(runs).toBe(1);
    expect(drive.input).toBe(3);
  });

  it('tells recipes apart by object, not by name', () => {
    const drive = driveOf({ hz: 1, channels });
    const make = (value: number): Recipe<number> => recipe({ id: 'same', about: '', compute: () => value });
    expect(drive.derive(make(1))).toBe(1);
    expect(drive.derive(make(2))).toBe(2);
  });

  it('remembers refusals', () => {
    let runs = 0;
    const absent = recipe<number>({
      id: 'absent',
      about: '',
      compute: () => {
        runs++;
        return refuse('no absent', { channels: ['engineSpeed'] });
      },
    });
    const drive = driveOf({ hz: 1, channels });
    expect(isRefusal(drive.derive(absent))).toBe(true);
    expect(drive.derive(absent)).toBe(drive.derive(absent));
    expect(runs).toBe(1);
  });

  it('remembers an exception, so that every rule fails alike', () => {
    let runs = 0;
    const broken = recipe<number>({
      id: 'broken',
      about: '',
      compute: () => {
        throw new Error(`run ${++runs}`);
      },
    });
    const drive = driveOf({ hz: 1, channels });
    expect(() => drive.derive(broken)).toThrow('run 1');
    expect(() => drive.derive(broken)).toThrow('run 1');
  });

  it('refuses a recipe that needs itself, and names the chain', () => {
    const first: Recipe<number> = recipe({ id: 'first', about: '', compute: (drive) => drive.derive(second) });
    const second: Recipe<number> = recipe({ id: 'second', about: '', compute: (drive) => drive.derive(first) });
    const answer = driveOf({ hz: 1, channels }).derive(first);
    expect(isRefusal(answer) && answer.reason).toBe(
      'no first, because it is derived from itself (first -> second -> first)',
    );
  });
});
