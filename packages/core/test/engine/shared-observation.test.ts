import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { assess } from '../../src/engine/assess.js';
import { type ObservationHelper, observeShare } from '../../src/engine/shared-observation.js';
import { toJson } from '../../src/report/json.js';
import { RULES } from '../../src/rules/index.js';
import { readProfile } from '../../src/vehicle/profile.js';

const demo = (name: string) => readFileSync(fileURLToPath(new URL(`../../../../test-data/${name}`, import.meta.url)));
const profile = readProfile(demo('demo.vehicle.yaml').toString('utf8'), 'demo.vehicle.yaml');
if (!profile.ok) throw new Error('the profile of the demo is broken');
const vehicle = profile.value;

async function judged(observer?: ObservationHelper, turn?: () => Promise<unknown>): Promise<string> {
  const source = new Uint8Array(demo('demo.csv'));
  const file = { name: 'demo.csv', source, ...(observer === undefined ? {} : { observer }) };
  return toJson(await assess([file], { vehicle, ...(turn === undefined ? {} : { turn }) }));
}

/** What a worker does, on this thread: jobs and answers pass as structured clones. */
function copying(seen: string[]): ObservationHelper {
  return {
    observe: async (job) => {
      const answers = observeShare(structuredClone(job));
      seen.push(...answers.map(({ rule }) => rule));
      return structuredClone(answers);
    },
    close: () => undefined,
  };
}

describe('rules observed by two threads', () => {
  it('give the same document, byte for byte, when the second thread takes every rule', async () => {
    const seen: string[] = [];
    expect(await judged(copying(seen))).toBe(await judged());
    expect(seen).toHaveLength(RULES.length);
    expect(new Set(seen)).toEqual(new Set(RULES.map(({ id }) => id)));
    // What derives much of the same stands together: the gears first, then what looks at the thinned drive.
    const places = seen.map((id) => RULES.find((rule) => rule.id === id)!);
    const last = places.findLastIndex(({ system }) => system === 'transmission' || system === 'driveline');
    expect(places.slice(0, last + 1).every(({ system }) => system === 'transmission' || system === 'driveline')).toBe(
      true,
    );
  });

  it('let in what else there is to do between two rules, with and without it', async () => {
    const idle: ObservationHelper = { observe: async () => [], close: () => undefined };
    const alone = await judged();
    for (const observer of [undefined, idle]) {
      let turns = 0;
      let heard = 0;
      const timer = setInterval(() => heard++, 1);
      const turn = () => new Promise((resolve) => setImmediate(resolve, turns++));
      expect(await judged(observer, turn)).toBe(alone);
      clearInterval(timer);
      expect(turns).toBe(RULES.length);
      expect(heard).toBeGreaterThan(5);
    }
  });

  it('give the same document when it fails, and when it answers nothing', async () => {
    const failing: ObservationHelper = { observe: () => Promise.reject(new Error('gone')), close: () => undefined };
    const taking: ObservationHelper = {
      observe: async ({ taken }) => {
        Atomics.add(new Int32Array(taken), 0, 5);
        return [];
      },
      close: () => undefined,
    };
    const alone = await judged();
    expect(await judged(failing)).toBe(alone);
    expect(await judged(taking)).toBe(alone);
  });

  it('closes the second thread', async () => {
    let closed = 0;
    await judged({ ...copying([]), close: () => closed++ });
    expect(closed).toBeGreaterThan(0);
  });
});
