import { type FaultFamily, nearest } from './fault.js';

/** provenance.distance: an instrument that shows less than the other control units, or a unit from another car. */
export const distance: FaultFamily = {
  rule: 'provenance.distance',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const exchanged = level === 'watch' && random.chance(0.5);
    draft.disturb.push((plant) => {
      const { memory } = plant;
      const km = memory.odometers[0]!.km;
      const which = exchanged ? random.int(1, 3) : 0;
      const gap =
        level === 'under'
          ? 85 - 60 * dial
          : level === 'watch'
            ? exchanged
              ? km * (0.05 + 0.9 * dial)
              : Math.max(130, km * (0.004 + 0.012 * dial))
            : Math.max(700, km * (0.025 + 0.5 * dial));
      memory.odometers = memory.odometers.map((each, i) =>
        i === which ? { ...each, km: Math.round(km - gap) } : each,
      );
      memory.lastLaunch = Math.min(memory.lastLaunch, Math.round(km - gap));
      memory.batteryChange = Math.min(memory.batteryChange, Math.round(km - gap));
      memory.sinceClear.km = Math.min(memory.sinceClear.km, Math.round((km - gap) / 2));
      if (level === 'repair' || !exchanged) memory.sinceClear.km = Math.max(memory.sinceClear.km, 400);
    });
    return { rule: this.rule, level, note: exchanged ? 'unit exchanged' : 'instrument shows less', dialled: {} };
  },
  truth({ plant }) {
    const { odometers } = plant.memory;
    const largest = Math.max(...odometers.map(({ km }) => km));
    const gap = largest - Math.min(...odometers.map(({ km }) => km));
    const short = largest - odometers[0]!.km;
    const repair = short > 500 && short > 0.02 * largest;
    const watch = gap > 100 && gap > 0.003 * largest;
    return {
      level: repair ? 'repair' : watch ? 'watch' : 'none',
      measures: { spread: gap },
      margin: Math.min(nearest(gap, [Math.max(100, 0.003 * largest)]), nearest(short, [Math.max(500, 0.02 * largest)])),
    };
  },
  decoys: {
    coarseUnits(draft) {
      draft.disturb.push((plant) => {
        plant.memory.odometers = plant.memory.odometers.map(({ unit, km }, i) => ({
          unit,
          km: i === 0 ? km : 10 * Math.floor(km / 10) - 20,
        }));
      });
    },
  },
};
