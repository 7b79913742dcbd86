import type { FaultFamily } from './fault.js';

/** Programs that the profile of a fault drive names. */
const OWN = {
  Engine: { id: 'EC41-2207', verification: '5F3A9C21' },
  Transmission: { id: 'TC18-0931', verification: '0D77B2E4' },
} as const;

/** provenance.calibration: a changed program, under its own name or another, or counters that programming set back. */
export const calibration: FaultFamily = {
  rule: 'provenance.calibration',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const kind = level === 'under' ? 'own' : random.pick(['identification', 'verification', 'counters'] as const);
    draft.profile.push(
      `calibration: { identification: [${OWN.Engine.id}, ${OWN.Transmission.id}], verification: ['${OWN.Engine.verification}', '${OWN.Transmission.verification}'] }`,
    );
    draft.disturb.push((plant) => {
      const { memory } = plant;
      const km = memory.odometers[0]!.km;
      memory.calibrations = (['Engine', 'Transmission'] as const).map((unit) => ({ unit, ...OWN[unit] }));
      const first = memory.calibrations[0]!;
      if (kind === 'own') memory.calibrations[0] = { ...first, id: first.id.toLowerCase() };
      if (kind === 'identification')
        memory.calibrations[0] = { unit: 'Engine', id: 'XS77-0001', verification: 'A1B2C3D4' };
      if (kind === 'verification') memory.calibrations[0] = { ...first, verification: 'A1B2C3D4' };
      if (kind === 'counters') memory.ignitionCycles = Math.floor(km / (600 + 4000 * dial));
    });
    return { rule: this.rule, level, note: kind, dialled: {} };
  },
  truth({ plant }) {
    const { calibrations, ignitionCycles, odometers } = plant.memory;
    const known = Object.values(OWN);
    // Only a fault drive has a profile that names programs, and all of its programs but the changed one are those.
    const named = calibrations.some(({ id }) => known.some((own) => own.id.toLowerCase() === id.toLowerCase()));
    const foreign =
      named && calibrations.some(({ verification }) => !known.some((own) => own.verification === verification));
    const setBack = odometers[0]!.km / Math.max(1, ignitionCycles) > 500 && odometers[0]!.km >= 5000;
    return { level: foreign || setBack ? 'watch' : 'none', measures: {}, margin: Number.POSITIVE_INFINITY };
  },
  decoys: {
    notInProfile(draft) {
      draft.disturb.push((plant) => {
        plant.memory.calibrations = plant.memory.calibrations.map((each) => ({ ...each, id: `${each.id} ` }));
      });
    },
  },
};
