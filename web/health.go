package web

import (
	"encoding/json"
	"net/http"
)

// healthz answers 200 while readings can be taken in, stored and judged, else
// 503. Why not is for those who may know.
func (s *Server) healthz(w http.ResponseWriter, r *http.Request, v visitor) error {
	reasons := s.Health()
	out := struct {
		Status  string   `json:"status"`
		Reasons []string `json:"reasons,omitempty"`
	}{Status: "ok"}
	status := http.StatusOK
	if len(reasons) > 0 {
		out.Status, status = "unavailable", http.StatusServiceUnavailable
		if v.Acts() {
			out.Reasons = reasons
		}
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	return json.NewEncoder(w).Encode(out)
}
