import { Filter } from '../filter.js';
import { Plant } from '../plant.js';
import type { Random } from '../random.js';
import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';

/** Resistance over a clean filter. */
const LOAD = { under: [1.4, 1.6], watch: [2.75, 3.1], repair: [4.6, 7] } as const;
const EMPTY = { under: [0.3, 0.36], watch: [0.02, 0.13] } as const;

/** exhaust.particulate-filter: emptied, or full of soot and ash. */
export const particulateFilter: FaultFamily = {
  rule: 'exhaust.particulate-filter',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const grade = level === 'stop' ? 'repair' : level;
    const emptied = grade !== 'repair' && random.chance(0.5);
    const [low, high] = emptied ? EMPTY[grade] : LOAD[grade];
    const load = emptied ? high - (high - low) * dial : low + (high - low) * dial;
    prepare(draft, random);
    const offset = random.range(-0.5, 0.5);
    draft.disturb.push((plant) => {
      plant.filterLoad = load;
      plant.filterOffset = offset;
    });
    return { rule: this.rule, level, note: `${load.toFixed(2)} of a clean filter`, dialled: { load } };
  },
  truth,
  decoys: {
    sound: (draft, random) => prepare(draft, random),
    keyOnOffset(draft, random) {
      prepare(draft, random);
      const offset = random.pick([-1, 1]) * random.range(2, 6);
      draft.disturb.push((plant) => {
        plant.filterOffset = offset;
      });
    },
    offsetWithoutRest(draft, random) {
      prepare(draft, random);
      draft.script.shift();
      const offset = random.range(1, 4);
      draft.disturb.push((plant) => {
        plant.filterOffset = offset;
      });
    },
    noneByDesign(draft, random) {
      prepare(draft, random);
      draft.profile.splice(0, draft.profile.length, 'exhaust: { particulateFilter: { fitted: false } }');
      draft.disturb.push((plant) => {
        plant.filterLoad = 0;
      });
    },
    coldGas(draft, random) {
      prepare(draft, random);
      draft.script.splice(
        1,
        draft.script.length,
        { kind: 'coldStart', duration: 10 },
        { kind: 'gentleGears', to: 90 },
        { kind: 'pull', gear: 3, fromRpm: 2500, toRpm: draft.car.engine.revLimit - 900 },
        { kind: 'idle', duration: 10 },
      );
    },
    deadSensor(draft, random) {
      prepare(draft, random);
      draft.disturbances.push({
        kind: 'value',
        channels: ['particulateFilterPressureDrop'],
        from: -1,
        to: 99_999,
        value: random.pick([0, 0.4, 1.2]),
      });
    },
    slowLog(draft, random) {
      prepare(draft, random);
      draft.tuned.set('particulateFilterPressureDrop', { refresh: 0.5 });
    },
  },
};

function prepare(draft: DriveDraft, random: Random): void {
  draft.script.unshift({ kind: 'coldStart', keyOn: random.range(8, 15), duration: 15 });
  insertWarm(draft.script, [
    { kind: 'cruise', speed: 90, duration: 60 },
    { kind: 'automaticStop', load: random.range(10, 18), duration: 3, restarts: true, grade: random.range(0.06, 0.1) },
  ]);
  draft.added.add('particulateFilterPressureDrop').add('particulateFilterTemperature');
  for (const id of ['airMassFlow', 'engineSpeed']) draft.kept.add(id);
  // Some sheets say for which gas they are written; those that do not are not all written for the same.
  const said = random.chance(0.6);
  const sheet = said ? random.range(400, 750) : random.range(500, 700);
  const plain = Object.assign(new Plant(), { filterSheet: sheet });
  draft.disturb.push((plant) => {
    plant.filterSheet = sheet;
  });
  const { flow, drop } = new Filter(draft.car, plain, 20).sheet;
  draft.profile.push(
    `exhaust: { particulateFilter: { fitted: true, pressureDrop: ${drop.toFixed(2)} kPa, flow: ${flow.toFixed(0)} m3/h${said ? `, temperature: ${sheet.toFixed(0)} degC` : ''} } }`,
  );
  atLeast(draft, 10);
}

/** True resistance over that of the data sheet, by the limits of the rule catalogue. */
function truth(sim: Simulation): TrueFinding {
  const { filter, plant } = sim;
  const share = filter.share();
  if (plant.filterLoad === 0 || filter.highest < 0.5 * filter.sheet.flow)
    return { level: 'none', measures: {}, margin: 9 };
  const level = share > 3 ? 'repair' : share > 2 || share < 0.2 ? 'watch' : 'none';
  const margin = Math.min(...[0.2, 2, 3].map((limit) => Math.abs(share / limit - 1)));
  return { level, measures: { share: 100 * share }, margin };
}
