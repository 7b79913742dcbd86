/**
 * NaN in gives NaN out. Share of the working cycle (%) in which a port injector is open: one injection in 720 degrees.
 * @param time ms; @param speed rpm
 */
export function injectorDuty(time: number, speed: number): number {
  return (time * speed) / 1200;
}

/** NaN in gives NaN out. Crank angle (deg) that an injection takes: 0.006 n t. @param time ms; @param speed rpm */
export function injectionAngle(time: number, speed: number): number {
  return 0.006 * speed * time;
}

/** NaN in gives NaN out. Flow through an orifice at another pressure drop: Q sqrt(p2 / p1) (Bernoulli). */
export function flowAtPressure(flow: number, from: number, to: number): number {
  return flow * Math.sqrt(to / from);
}

/**
 * NaN in gives NaN out. Injector size, g/s static, that a power takes: P x BSFC / (injectors x duty). Common practice of
 * injector sizing (worked examples in the trade's pages; brake specific fuel consumption of boosted petrol engines 0.33 to
 * 0.40 kg/kWh). @param power kW; @param consumption kg/kWh; @param injectors count; @param duty share of the cycle, 0..1
 */
export function injectorFor(power: number, consumption: number, injectors: number, duty: number): number {
  return (power * consumption * 1000) / 3600 / (injectors * duty);
}

/** NaN in gives NaN out. Volume flow, cm3/min, of a mass flow (g/s). @param density kg/L */
export function volumePerMinute(flow: number, density: number): number {
  return (flow * 60) / density;
}
