import { boostControl } from './boost-control.js';
import { breathing } from './breathing.js';
import { calibration } from './calibration.js';
import { camTiming } from './cam-timing.js';
import { catalyst } from './catalyst.js';
import { chargeCooling } from './charge-cooling.js';
import { chargeLeak } from './charge-leak.js';
import { charging } from './charging.js';
import { claims } from './claims.js';
import { clutchAdaptation } from './clutch-adaptation.js';
import { clutchSlip } from './clutch-slip.js';
import { coldLoad } from './cold-load.js';
import { coldStart } from './cold-start.js';
import { coolantLoss } from './coolant-loss.js';
import { cooling } from './cooling.js';
import { cylinderBalance } from './cylinder-balance.js';
import { distance } from './distance.js';
import { exhaustTemperature } from './exhaust-temperature.js';
import type { FaultFamily } from './fault.js';
import { frontDrive } from './front-drive.js';
import { gearCoverage } from './gear-coverage.js';
import { hotStop } from './hot-stop.js';
import { idle } from './idle.js';
import { injectorDuty } from './injector-duty.js';
import { injectorSize } from './injector-size.js';
import { judder } from './judder.js';
import { knock } from './knock.js';
import { lambdaLoad } from './lambda-load.js';
import { lambdaSensor } from './lambda-sensor.js';
import { launches } from './launches.js';
import { lockUp } from './lock-up.js';
import { lowSpeedHop } from './low-speed-hop.js';
import { meterRange } from './meter-range.js';
import { misfire } from './misfire.js';
import { monitorResults } from './monitor-results.js';
import { octaneLearning } from './octane-learning.js';
import { oilDilution } from './oil-dilution.js';
import { oilPressure } from './oil-pressure.js';
import { oilSurge } from './oil-surge.js';
import { oilTemperature } from './oil-temperature.js';
import { overRev } from './over-rev.js';
import { overTemperature } from './over-temperature.js';
import { particulateFilter } from './particulate-filter.js';
import { power } from './power.js';
import { preIgnition } from './pre-ignition.js';
import { pressure } from './pressure.js';
import { protection } from './protection.js';
import { purge } from './purge.js';
import { railPressure } from './rail-pressure.js';
import { ratio } from './ratio.js';
import { recentClear } from './recent-clear.js';
import { recording } from './recording.js';
import { selection } from './selection.js';
import { sensorAgreement } from './sensor-agreement.js';
import { severity } from './severity.js';
import { shiftQuality } from './shift-quality.js';
import { smoothness } from './smoothness.js';
import { startQuality } from './start-quality.js';
import { storedCodes } from './stored-codes.js';
import { throttleClosure } from './throttle-closure.js';
import { torqueLoad } from './torque-load.js';
import { trim } from './trim.js';
import { turboHealth } from './turbo-health.js';
import { tyreCircumference } from './tyre-circumference.js';
import { wheelSpeed } from './wheel-speed.js';

/** Every family of injected faults, one per rule. */
export const FAULTS: readonly FaultFamily[] = [
  launches,
  overRev,
  coldLoad,
  severity,
  hotStop,
  overTemperature,
  clutchSlip,
  clutchAdaptation,
  pressure,
  judder,
  lockUp,
  ratio,
  shiftQuality,
  selection,
  gearCoverage,
  frontDrive,
  lowSpeedHop,
  tyreCircumference,
  wheelSpeed,
  knock,
  preIgnition,
  misfire,
  cylinderBalance,
  idle,
  smoothness,
  oilPressure,
  oilSurge,
  oilTemperature,
  oilDilution,
  torqueLoad,
  power,
  breathing,
  camTiming,
  coolantLoss,
  startQuality,
  protection,
  cooling,
  trim,
  lambdaLoad,
  exhaustTemperature,
  catalyst,
  particulateFilter,
  charging,
  boostControl,
  sensorAgreement,
  injectorDuty,
  injectorSize,
  railPressure,
  storedCodes,
  monitorResults,
  recentClear,
  recording,
  coldStart,
  claims,
  distance,
  calibration,
  lambdaSensor,
  octaneLearning,
  purge,
  throttleClosure,
  chargeCooling,
  meterRange,
  turboHealth,
  chargeLeak,
];
