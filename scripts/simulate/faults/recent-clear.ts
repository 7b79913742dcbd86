import type { FaultFamily } from './fault.js';

/** provenance.recent-clear: the fault memory was emptied days before the visit. */
export const recentClear: FaultFamily = {
  rule: 'provenance.recent-clear',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const km = level === 'under' ? 300 - 190 * dial : 97 - 95 * dial;
    const warmUps = level === 'under' ? 30 - Math.round(18 * dial) : random.int(0, 40);
    draft.disturb.push((plant) => {
      plant.memory.sinceClear = { km: Math.round(km), warmUps, minutes: Math.round(km * 1.5) };
      plant.memory.monitorsOpen =
        level === 'under'
          ? ['Evaporative system']
          : ['Catalyst', 'Evaporative system', 'Oxygen sensor'].slice(0, random.int(0, 3));
    });
    return {
      rule: this.rule,
      level,
      note: `${km.toFixed(0)} km, ${warmUps} warm-ups`,
      dialled: { distance: Math.round(km) },
    };
  },
  truth({ plant }) {
    const { sinceClear, odometers } = plant.memory;
    const fresh = odometers[0]!.km - sinceClear.km <= 50;
    const recent = !fresh && (sinceClear.km < 100 || sinceClear.warmUps < 10);
    return {
      level: recent ? 'watch' : 'none',
      measures: { distance: sinceClear.km },
      margin: Math.abs(sinceClear.km - 100),
    };
  },
  decoys: {
    fullCounters(draft) {
      draft.disturb.push((plant) => {
        plant.memory.sinceClear = { km: 65535, warmUps: 255, minutes: 65535 };
        plant.memory.odometers = plant.memory.odometers.map(({ unit, km }) => ({ unit, km: km + 70_000 }));
        plant.memory.operatingHours += 1500;
      });
    },
    batteryChanged(draft) {
      draft.disturb.push((plant) => {
        plant.memory.batteryChange = plant.memory.odometers[0]!.km - 30;
        plant.memory.monitorsOpen = ['Catalyst', 'Evaporative system', 'Oxygen sensor'];
      });
    },
    newCar(draft) {
      draft.disturb.push((plant) => {
        plant.memory.odometers = plant.memory.odometers.map(({ unit }) => ({ unit, km: 82 }));
        plant.memory.lastLaunch = 0;
        plant.memory.launchCount = 0;
        plant.memory.batteryChange = 0;
        plant.memory.sinceClear = { km: 70, warmUps: 6, minutes: 140 };
        plant.memory.ignitionCycles = 15;
        plant.memory.operatingHours = 2;
      });
    },
  },
};
