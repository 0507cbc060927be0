"""Two general solvers as judges of the order search (OR-Tools): one that proves, one that is quick."""

from __future__ import annotations

import itertools

import numpy as np

from lagline.planning.order_search import Problem

SCALE = 1000  # costs are whole numbers to the judges


def proven(p: Problem, seconds: float = 60.0) -> tuple[float, float]:
    """Return the least cost found and a bound below it (CP-SAT: a circuit over options, places as numbers); equal
    when the first is proven to be the least."""
    from ortools.sat.python import cp_model

    model, m, n = cp_model.CpModel(), len(p.own), p.tasks
    task = p.task_of
    used = [model.new_bool_var("") for _ in range(m)]
    place = [model.new_int_var(0, n - 1, "") for _ in range(n)]
    arcs, price = [], []
    for o in range(m):
        arcs += [(o, o, ~used[o]), (m, o, model.new_bool_var("")), (o, m, model.new_bool_var(""))]
        model.add(place[task[o]] == 0).only_enforce_if(arcs[-2][2])
        price.append(round(SCALE * p.own[o]) * used[o])
    for i, j in itertools.permutations(range(n), 2):
        link = p.links(i, j)
        for a, b in itertools.product(range(p.first[i], p.first[i + 1]), range(p.first[j], p.first[j + 1])):
            arc = model.new_bool_var("")
            arcs.append((a, b, arc))
            model.add(place[j] == place[i] + 1).only_enforce_if(arc)
            price.append(round(SCALE * link[a - p.first[i], b - p.first[j]]) * arc)
    model.add_circuit(arcs)
    for t in range(n):
        model.add_exactly_one(used[o] for o in range(p.first[t], p.first[t + 1]))
        price.append(round(SCALE * p.late[t]) * place[t])
    for i, j in np.argwhere(p.must):
        model.add(place[i] < place[j])
    model.minimize(sum(price))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.random_seed = 1
    solver.parameters.max_time_in_seconds = seconds
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return np.inf, solver.best_objective_bound / SCALE
    return solver.objective_value / SCALE, solver.best_objective_bound / SCALE


def routed(p: Problem, seconds: float, first: str) -> float:
    """Return the cost a general routing solver reaches (guided local search), infinite when it leaves a task out.

    ``first`` is how its first sequence is made, e.g. "PATH_CHEAPEST_ARC". Options of a task are alternatives; its
    place in the sequence is one number for all of them, so that precedence is one inequality for each pair.
    """
    from ortools.constraint_solver import pywrapcp, routing_enums_pb2

    m, n = len(p.own), p.tasks
    links = np.concatenate([p.links_from(i) for i in range(n)]) + p.own
    price = np.zeros((m + 1, m + 1), dtype=np.int64)
    price[1:, 1:] = np.rint(SCALE * links)
    price[0, 1:] = np.rint(SCALE * p.own)
    nodes = pywrapcp.RoutingIndexManager(m + 1, 1, 0)
    model = pywrapcp.RoutingModel(nodes)
    model.SetArcCostEvaluatorOfAllVehicles(model.RegisterTransitMatrix(price.tolist()))
    model.AddDimension(model.RegisterUnaryTransitVector([1] * (m + 1)), 0, n + 1, True, "place")
    at = [nodes.NodeToIndex(o + 1) for o in range(m)]
    place = [model.GetDimensionOrDie("place").CumulVar(i) for i in at]
    for t in range(n):
        mine = range(p.first[t], p.first[t + 1])
        model.AddDisjunction([at[o] for o in mine], 10**9, 1)
        for o in mine[1:]:
            model.solver().Add(place[o] == place[mine[0]])
    for i, j in np.argwhere(p.must):
        model.solver().Add(place[p.first[i]] + 1 <= place[p.first[j]])
    ask = pywrapcp.DefaultRoutingSearchParameters()
    ask.first_solution_strategy = getattr(routing_enums_pb2.FirstSolutionStrategy, first)
    ask.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    ask.time_limit.FromMilliseconds(int(1000 * seconds))
    found = model.SolveWithParameters(ask)
    if found is None:
        return float("inf")
    chosen, i = [], found.Value(model.NextVar(model.Start(0)))
    while not model.IsEnd(i):
        chosen.append(nodes.IndexToNode(i) - 1)
        i = found.Value(model.NextVar(i))
    options = np.array(chosen, dtype=np.int64)
    sequence = p.task_of[options]
    stands = np.argsort(sequence)
    if len(options) < n or not all(stands[i] < stands[j] for i, j in np.argwhere(p.must)):
        return float("inf")
    return p.cost(sequence, options)
