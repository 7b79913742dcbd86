/** Everything in the car that a fault or decoy may disturb. A fresh object is a healthy car. */
export class Plant {
  // Mixture
  /** kg/s drawn past the meter at idle vacuum (choked flow). */
  leakFlow = 0;
  /** Meter reading over truth at no flow and at rated flow. */
  meterLow = 1;
  meterHigh = 1;
  /** Fuel delivered over fuel commanded, per bank. */
  fuelFactor: [number, number] = [1, 1];
  /** Share of the fuel that is missing at rated flow (weak pump, clogged filter). */
  fuelFade = 0;
  /** Stoichiometric fuel need over that of the calibration fuel (ethanol). */
  fuelNeed = 1;
  /** Tank ventilation: extra fuel as a share of the mixture while the purge valve is open. */
  purge: { from: number; to: number; share: number }[] = [];
  /** Fuel vapour from the oil: extra fuel as a share of the mixture at idle while the oil is cold, gone at 95 degC. */
  oilVapour = 0;
  /** Adaptation cleared before the drive and held: all long trims exactly 0. */
  trimReset = false;
  /** How much of a lasting error earlier drives have learned into the long trim. */
  learnedShare = 0.85;
  // Knock
  knock: { cylinders: readonly number[]; retard: number; from: number; to: number; pulls: readonly number[] }[] = [];
  /** Short retard (deg) of all cylinders on a fast pedal opening. */
  tipInRetard = 0;
  /** Retard (deg) of all cylinders while the charge air is above 55 degC at high load. */
  hotChargeRetard = 0;
  /** The logged knock retard also holds the ignition intervention of shifts and traction control. */
  retardHoldsInterventions = false;
  /** Natural single knock events per second at high load. */
  knockRate = 0.12;
  // Heat
  /** While the phase with that tag runs, the fluid climbs to the peak (degC), stays there for the dwell (s), then cools. */
  overheats: { tag: string; peak: number; dwell: number; rise: number; where: 'fluid' | 'outlet' }[] = [];
  /** Cooler performance of the transmission fluid over healthy. */
  coolerFactor = 1;
}
