// A program as another team would write it, against types made from openapi/openapi.json.
import type { components, paths } from "./api";

type SetupCall = paths["/v1/setups"]["post"];
type SetupRequest = SetupCall["requestBody"]["content"]["application/json"];
type Setup = SetupCall["responses"][200]["content"]["application/json"];
type Problem = SetupCall["responses"][422]["content"]["application/problem+json"];

export const request: SetupRequest = {
  vehicle_id: "jorvantel-rhedgarn-2020-us",
  procedure_id: "radar-reflector",
  measured: { "vehicle.thrust_yaw_deg": 0.1 },
};

export function placesOf(setup: Setup): string[] {
  return setup.stages.flatMap((stage) =>
    stage.placements.map((item) => `${item.sentence} x ${item.in_vehicle.x_mm.toFixed(1)} mm`),
  );
}

export function explain(problem: Problem): string {
  return problem.errors?.map((fault) => `${fault.pointer}: ${fault.detail}`).join("\n") ?? problem.title;
}

// Every look-up has a page of its own type, and filters that are named.
type Filters = NonNullable<paths["/v1/vehicles"]["get"]["parameters"]["query"]>;
export const filters: Filters = { make: "Mirandeux", model_year: 2024, page_size: 20 };
export const unchanged: keyof paths["/v1/vehicles"]["get"]["responses"] = 304;

// An answer's placement can be sent again: what is sent is a closed form of what is answered.
export function again(setup: Setup, vehicle: components["schemas"]["VehicleGeometry"]) {
  const call: paths["/v1/geometry/placement"]["post"]["requestBody"]["content"]["application/json"] = {
    vehicle,
    placement: setup.stages[0]!.placements[0]!.placement,
  };
  return call;
}

// @ts-expect-error a field that is missing
export const incomplete: SetupRequest = { vehicle_id: "jorvantel-rhedgarn-2020-us" };
// @ts-expect-error a number in quotes
export const quoted: Filters = { model_year: "2024" };
// @ts-expect-error an unknown field
export const unknown: SetupRequest = { ...request, colour: "red" };
// @ts-expect-error an operation that is not there
export type Nothing = paths["/v1/setups"]["delete"]["responses"];
