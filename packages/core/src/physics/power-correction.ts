/**
 * A factor that takes measured power to standard air, and whether the standard allows it there. None is meant for an
 * engine whose boost is held by a controller: that has already made up for the air (UN Regulation No. 85, supplement 7).
 */
export interface CorrectionFactor {
  readonly factor: number;
  /** Inside the range in which the standard lets the factor be used. */
  readonly valid: boolean;
}

const KELVIN = 273;

/**
 * NaN in gives NaN out and `valid` false. Spark ignition, ISO 1585:2020 and UN Regulation No. 85 annex 5 (from memory):
 * (99 / p)^1.2 ((t + 273) / 298)^0.6, valid from 0.93 to 1.07 at 288 to 308 K.
 * @param pressure kPa of dry air; @param temperature degC of the intake air
 */
export function iso1585(pressure: number, temperature: number): CorrectionFactor {
  const factor = (99 / pressure) ** 1.2 * ((temperature + KELVIN) / 298) ** 0.6;
  const kelvin = temperature + KELVIN;
  return { factor, valid: factor >= 0.93 && factor <= 1.07 && kelvin >= 288 && kelvin <= 308 };
}

/**
 * NaN in gives NaN out and `valid` false. Spark ignition, SAE J1349 (from memory), at a mechanical efficiency of 85 %:
 * 1.18 (99 / p) sqrt((t + 273) / 298) - 0.18, valid from 0.93 to 1.07.
 * @param pressure kPa of dry air; @param temperature degC of the intake air
 */
export function saeJ1349(pressure: number, temperature: number): CorrectionFactor {
  const factor = 1.18 * (99 / pressure) * Math.sqrt((temperature + KELVIN) / 298) - 0.18;
  return { factor, valid: factor >= 0.93 && factor <= 1.07 };
}

/**
 * NaN in gives NaN out and `valid` false. DIN 70020 (from memory, withdrawn): (101.3 / p) sqrt((t + 273) / 293).
 * @param pressure kPa, humidity included; @param temperature degC of the intake air
 */
export function din70020(pressure: number, temperature: number): CorrectionFactor {
  const factor = (101.3 / pressure) * Math.sqrt((temperature + KELVIN) / 293);
  return { factor, valid: factor > 0 };
}
