package web

import (
	"encoding/json"
	"net/http"

	"lentic/collector/aquarium"
)

// healthz answers 200 while readings can be taken in, stored and judged, else
// 503. Why not is for those who may know, and so is of which sites
// the stored weeks are still being learned.
func (s *Server) healthz(w http.ResponseWriter, r *http.Request, v visitor) error {
	reasons := s.Health()
	out := struct {
		Status   string            `json:"status"`
		Reasons  []string          `json:"reasons,omitempty"`
		Learning []aquarium.SiteID `json:"learning,omitempty"`
	}{Status: "ok"}
	status := http.StatusOK
	if len(reasons) > 0 {
		out.Status, status = "unavailable", http.StatusServiceUnavailable
		if v.Acts() {
			out.Reasons = reasons
		}
	}
	if v.Acts() {
		for _, site := range s.scene.Load().seen(v) {
			if s.Learning(site.ID) {
				out.Learning = append(out.Learning, site.ID)
			}
		}
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	return json.NewEncoder(w).Encode(out)
}
