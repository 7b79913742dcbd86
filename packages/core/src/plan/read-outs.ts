import type { ReadOut } from './phase.js';

/** What to read before the engine is started, in this order. Rules that need nothing but a read-out stand here alone. */
export const READ_OUTS: readonly ReadOut[] = Object.freeze([
  {
    id: 'codes',
    title: 'Codes of every control unit',
    items: [
      'stored, pending and permanent codes with their freeze-frame values',
      'readiness of the monitors; distance, warm-ups and time since codes were cleared',
    ],
    proves: ['codes.stored', 'provenance.recent-clear', 'driveline.front-drive'],
  },
  {
    id: 'monitors',
    title: 'Results of the on-board monitors (service 06)',
    items: ['identifier, value, lower and upper limit of every monitor'],
    proves: ['codes.monitor-results', 'exhaust.catalyst'],
  },
  {
    id: 'engine-memory',
    title: 'Memory of the engine control unit',
    items: [
      'calibration identification and verification number, odometer, ignition cycles',
      'over-rev and pre-ignition counters, stored peak temperatures, learned knock or octane factor, long-term trims, camshaft offset, soot and ash load',
    ],
    proves: [
      'usage.over-rev',
      'engine.pre-ignition',
      'engine.cam-timing',
      'fuel.octane-learning',
      'exhaust.particulate-filter',
      'provenance.calibration',
      'provenance.distance',
    ],
  },
  {
    id: 'gearbox-memory',
    title: 'Memory of the transmission and chassis control units',
    items: [
      'launch counter, odometer, highest fluid temperature',
      'touch points, travels and corrections of the clutches; state of the adaptations',
    ],
    proves: [
      'usage.launches',
      'transmission.clutch-adaptation',
      'transmission.over-temperature',
      'provenance.distance',
    ],
  },
]);
