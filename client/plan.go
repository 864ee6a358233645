package client

import (
	"context"
	"io"

	pb "platarium/proto/platarium/v1"
)

// ExportPlan writes a plan as a file to w and verifies it.
func (c *Client) ExportPlan(ctx context.Context, req *pb.ExportPlanRequest, w io.Writer) (*pb.DownloadHeader, error) {
	stream, err := c.Commission.ExportPlan(ctx, req)
	if err != nil {
		return nil, err
	}
	return receive(stream, w)
}
