import type { DriveDraft, FaultFamily } from './fault.js';

/** All control units agree on `km`; what they keep of the past lies below. */
function drivenSoFar(draft: DriveDraft, km: number): void {
  draft.disturb.push((plant) => {
    const { memory } = plant;
    // The counters that only run on are those of that distance.
    const share = km / memory.odometers[0]!.km;
    memory.operatingHours = Math.round(memory.operatingHours * share);
    memory.ignitionCycles = Math.round(memory.ignitionCycles * share);
    memory.odometers = memory.odometers.map(({ unit }, i) => ({ unit, km: km - i }));
    memory.lastLaunch = Math.min(memory.lastLaunch, km - 500);
    memory.batteryChange = Math.min(memory.batteryChange, km - 500);
    memory.sinceClear.km = Math.max(400, Math.min(memory.sinceClear.km, Math.round(km / 2)));
  });
}

/** provenance.claims: the seller says what the control units do not. */
export const claims: FaultFamily = {
  rule: 'provenance.claims',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const claimed = Math.round(random.range(40_000, 120_000) / 1000) * 1000;
    const share = level === 'under' ? 1 + 0.015 * dial : 1.04 + 0.5 * dial;
    drivenSoFar(draft, Math.round(claimed * share));
    draft.claims = { ...draft.claims, distance: `${claimed} km` };
    const more = level === 'repair';
    if (more) draft.claims = { ...draft.claims, launches: 'never', codesCleared: 'never' };
    draft.disturb.push((plant) => {
      if (more) plant.memory.launchCount = 3 + random.int(0, 30);
      plant.falseClaims = level === 'under' ? 0 : more ? 3 : 1;
    });
    return { rule: this.rule, level, note: `${(100 * share - 100).toFixed(0)} % more distance`, dialled: {} };
  },
  truth({ plant }) {
    const { falseClaims } = plant;
    return {
      level: falseClaims >= 2 ? 'repair' : falseClaims === 1 ? 'watch' : 'none',
      measures: { contradicted: falseClaims },
      margin: Number.POSITIVE_INFINITY,
    };
  },
  decoys: {
    gentleDrive(draft) {
      draft.claims = {
        ...draft.claims,
        power: `${Math.round(draft.car.engine.ratedPower)} kW`,
        boost: '60 kPa',
        tracked: 'never',
      };
    },
    roundedDistance(draft, random) {
      const km = random.int(60_000, 99_000);
      drivenSoFar(draft, km);
      draft.claims = { ...draft.claims, distance: `${1000 * Math.floor(km / 1000)} km` };
    },
  },
};
