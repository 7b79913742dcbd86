import { boostControl } from './air/boost-control.js';
import { chargeCooling } from './air/charge-cooling.js';
import { chargeLeak } from './air/charge-leak.js';
import { meterRange } from './air/meter-range.js';
import { throttleClosure } from './air/throttle-closure.js';
import { turboHealth } from './air/turbo-health.js';
import { monitorResults } from './codes/monitor-results.js';
import { storedCodes } from './codes/stored.js';
import { frontDrive } from './driveline/front-drive.js';
import { lowSpeedHop } from './driveline/low-speed-hop.js';
import { tyreCircumference } from './driveline/tyre-circumference.js';
import { wheelSpeed } from './driveline/wheel-speed.js';
import { charging } from './electrical/charging.js';
import { breathing } from './engine/breathing.js';
import { camTiming } from './engine/cam-timing.js';
import { coolantLoss } from './engine/coolant-loss.js';
import { cooling } from './engine/cooling.js';
import { cylinderBalance } from './engine/cylinder-balance.js';
import { idle } from './engine/idle.js';
import { knock } from './engine/knock.js';
import { misfire } from './engine/misfire.js';
import { oilDilution } from './engine/oil-dilution.js';
import { oilPressure } from './engine/oil-pressure.js';
import { oilSurge } from './engine/oil-surge.js';
import { oilTemperature } from './engine/oil-temperature.js';
import { power } from './engine/power.js';
import { preIgnition } from './engine/pre-ignition.js';
import { protection } from './engine/protection.js';
import { smoothness } from './engine/smoothness.js';
import { startQuality } from './engine/start-quality.js';
import { torqueLoad } from './engine/torque-load.js';
import { catalyst } from './exhaust/catalyst.js';
import { particulateFilter } from './exhaust/particulate-filter.js';
import { exhaustTemperature } from './exhaust/temperature.js';
import { injectorDuty } from './fuel/injector-duty.js';
import { injectorSize } from './fuel/injector-size.js';
import { lambdaLoad } from './fuel/lambda-load.js';
import { lambdaSensor } from './fuel/lambda-sensor.js';
import { octaneLearning } from './fuel/octane-learning.js';
import { purge } from './fuel/purge.js';
import { railPressure } from './fuel/rail-pressure.js';
import { fuelTrim } from './fuel/trim.js';
import { calibration } from './provenance/calibration.js';
import { claims } from './provenance/claims.js';
import { coldStart } from './provenance/cold-start.js';
import { distance } from './provenance/distance.js';
import { recentClear } from './provenance/recent-clear.js';
import { recording } from './provenance/recording.js';
import { sensorAgreement } from './provenance/sensor-agreement.js';
import type { Rule } from './rule.js';
import { clutchAdaptation } from './transmission/clutch-adaptation.js';
import { clutchSlip } from './transmission/clutch-slip.js';
import { gearCoverage } from './transmission/gear-coverage.js';
import { judder } from './transmission/judder.js';
import { lockUp } from './transmission/lock-up.js';
import { overTemperature } from './transmission/over-temperature.js';
import { pressure } from './transmission/pressure.js';
import { ratio } from './transmission/ratio.js';
import { selection } from './transmission/selection.js';
import { shiftQuality } from './transmission/shift-quality.js';
import { coldLoad } from './usage/cold-load.js';
import { hotStop } from './usage/hot-stop.js';
import { launches } from './usage/launches.js';
import { overRev } from './usage/over-rev.js';
import { severity } from './usage/severity.js';

/** Every rule, in the order of the reports. A test holds this list against the files under `rules/`. */
export const RULES: readonly Rule[] = Object.freeze([
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
  fuelTrim,
  lambdaLoad,
  injectorDuty,
  injectorSize,
  railPressure,
  lambdaSensor,
  octaneLearning,
  purge,
  boostControl,
  throttleClosure,
  chargeCooling,
  meterRange,
  turboHealth,
  chargeLeak,
  exhaustTemperature,
  catalyst,
  particulateFilter,
  charging,
  storedCodes,
  monitorResults,
  sensorAgreement,
  recentClear,
  recording,
  coldStart,
  distance,
  calibration,
  claims,
]);
