import type { ReadOut } from '../recording/read-out.js';
import { recipe, refuse } from './recipe.js';

export const READ_OUT = recipe<ReadOut>({
  id: 'readOut',
  about:
    'What was read out of control-unit memory beside values that are channels: trouble codes, readiness, monitor results, odometers of several units, calibrations. Refused in a drive.',
  compute(drive) {
    return (
      drive.recording.readOut ??
      refuse('no read-out of control-unit memory', { conditions: ['stored values or a code list'] })
    );
  },
});
